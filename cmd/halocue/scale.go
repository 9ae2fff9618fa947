package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/platescale"
	"halocue/internal/run/parts"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
	"halocue/internal/sky"
)

// scaleFlags are the flags of scale that are no settings.
type scaleFlags struct {
	clockFlags
	json, write, known  bool // known: the declination was given
	star                string
	seconds, decDegrees float64
}

func newScaleCommand(a *app) *cobra.Command {
	var g scaleFlags
	cmd := &cobra.Command{
		Use:   "scale",
		Short: "Get the plate scale and the direction of west from a drifting star",
		Long: `Watches a star drift through the frame for a minute with the mount's tracking
off and nobody touching the telescope. Its speed gives the arc seconds in a pixel,
so the size of a pixel need not be known, not even behind an eyepiece; its way
points west. It offers to write the result into the telescope's settings, and
changes nothing else in them. Put a star near the equator at the frame's edge, so that it drifts
across. Never point the telescope at the Sun.`,
		Example: "halocue scale --star capella\nhalocue scale --declination 12.5 --write",
		Args:    noArgs,
		RunE: a.with(func(cmd *cobra.Command, c config.Config, _ []string) error {
			g.known = cmd.Flags().Changed("declination")
			return a.scale(cmd.Context(), c, g)
		}),
	}
	settingFlags(cmd, "telescope", "camera", "sound", "voice")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print a JSON line")
	f.BoolVar(&g.write, "write", false, "write the result into the settings without asking")
	f.Float64Var(&g.decDegrees, "declination", 0, "`DEGREES` of the star's declination, north positive, of this year")
	f.StringVar(&g.star, "star", "", "`NAME` of the star, in place of its declination")
	g.add(cmd, 10)
	f.Float64Var(&g.seconds, "seconds", 60, "`SECONDS` to watch")
	return cmd
}

// declination returns the star's declination, degrees. For a star given by name the sign is
// dropped: only the size counts.
func (g scaleFlags) declination() (float64, error) {
	switch {
	case g.known && g.star != "":
		return 0, usageError{errors.New("give --declination or --star, not both")}
	case g.known && !(math.Abs(g.decDegrees) <= 90):
		return 0, usageError{fmt.Errorf("--declination %g: give -90 to 90 degrees", g.decDegrees)}
	case g.known:
		return g.decDegrees, nil
	case g.star == "":
		return 0, usageError{errors.New("the star is not known; give its --declination in degrees, or --star NAME")}
	}
	s, ok := sky.Named(g.star)
	if !ok {
		return 0, usageError{fmt.Errorf("--star %q is not among the bright stars; give its --declination in degrees", g.star)}
	}
	_, rate := sky.Site{}.Look(s, time.Now())
	return math.Acos(rate/sky.SiderealRate) * 180 / math.Pi, nil
}

func (a *app) scale(ctx context.Context, c config.Config, g scaleFlags) error {
	dec, err := g.declination()
	if err != nil {
		return err
	}
	if !(g.seconds >= 5 && g.seconds <= 3600) {
		return usageError{fmt.Errorf("--seconds %g: give 5 to 3600", g.seconds)}
	}
	drifting := func(n telescope.Night) telescope.Night {
		return virtual.Drifting(n, platescale.Rate(dec)/206264.8, g.seconds)
	}
	t, err := a.openTool(ctx, c, g.clockFlags, drifting)
	if err != nil {
		return err
	}
	defer t.close()
	if err := t.c.Check(); err != nil {
		return err
	}
	if err := t.say(ctx, t.words("scale.begin", g.seconds)); err != nil {
		return err
	}
	points, stretch, err := platescale.Watch(ctx, t.Source, parts.AnyMeter(t.c), t.c.Optics(), g.seconds)
	if err != nil {
		return err
	}
	r, err := platescale.Measure(points, dec, stretch)
	if err != nil {
		return t.failed(ctx, len(points), fmt.Errorf("measuring the drift: %w", err))
	}
	report := platescale.NewReport(r, t.c)
	if g.json {
		err = json.NewEncoder(a.Stdout).Encode(report)
	} else {
		_, err = fmt.Fprintln(a.Stdout, report.Words(t.words))
	}
	err = errors.Join(err, t.show(ctx, io.Discard, t.words("scale.done", r.ArcsecPerPX, r.WestHour())))
	if err != nil {
		return err
	}
	return t.keep(ctx, g.write, !g.json, report.Into)
}
