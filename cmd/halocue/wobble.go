package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/floats/scalar"

	"halocue/config"
	"halocue/internal/repeatability"
	"halocue/internal/run/parts"
	"halocue/internal/simulate/telescope"
	"halocue/vision/camera"
)

// wobbleFlags are the flags of wobble that are no settings.
type wobbleFlags struct {
	clockFlags
	json, spot, turned bool
	write              bool
	pause, look        float64
	looks              int
	wallMM, distanceMM float64
}

func newWobbleCommand(a *app) *cobra.Command {
	var g wobbleFlags
	cmd := &cobra.Command{
		Use:   "wobble [FRAME | FOLDER]...",
		Short: "Tell how far the answer wanders when the camera is seated anew",
		Long: `Measures the same thing again and again while you turn, push and re-seat the
camera in the focuser, and tells whether the focuser can be trusted. Each frame or
folder is one look; without any, the camera takes them and the voice says when to
move it. The telescope must not be touched, and the mount must track.

With --turned the camera is turned round in the focuser, an eighth of a turn
between looks: the circle that the star draws has the focuser's true centre in its
middle. It offers to write that into the settings, and changes nothing else in
them. With --spot the light's place counts instead of the axis point: an
artificial star, or with --wall-mm-per-px a tool's spot on a wall or mirror.

Let nothing loose hang over an open tube. Never look into a laser, and never point
the telescope at the Sun.`,
		Example: "halocue wobble\nhalocue wobble --turned --write\nhalocue wobble --spot look-1.png look-2.png look-3.png",
		Args:    cobra.ArbitraryArgs,
		RunE: a.with(func(cmd *cobra.Command, c config.Config, args []string) error {
			return a.wobble(cmd.Context(), c, g, args)
		}),
	}
	settingFlags(cmd, "telescope", "camera", "sound", "voice")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print JSON lines")
	f.BoolVar(&g.write, "write", false, "write the focuser's centre into the settings without asking")
	f.BoolVar(&g.spot, "spot", false, "the place of the light counts, not the axis point")
	f.BoolVar(&g.turned, "turned", false, "camera or tool is turned round between looks")
	f.Float64Var(&g.wallMM, "wall-mm-per-px", 0, "`MM` of the wall or mirror in a pixel, for a tool's spot on it")
	f.Float64Var(&g.distanceMM, "distance-mm", 0, "`MM` from the tool to the wall or mirror")
	g.add(cmd, 10)
	under(cmd, "An artificial star, or a tool's spot:", "spot", "wall-mm-per-px", "distance-mm")
	f.IntVar(&g.looks, "looks", 8, "`N` looks with the camera")
	f.Float64Var(&g.pause, "pause", 8, "`SECONDS` to move the camera between looks")
	f.Float64Var(&g.look, "look", 2, "`SECONDS` that a look lasts")
	return cmd
}

func (g wobbleFlags) check() error {
	switch {
	case g.looks < 3 || g.looks > 200:
		return usageError{fmt.Errorf("--looks %d: give 3 to 200", g.looks)}
	case !(g.pause >= 0 && g.pause <= 600):
		return usageError{fmt.Errorf("--pause %g: give 0 to 600 seconds", g.pause)}
	case !(g.look > 0 && g.look <= 60):
		return usageError{fmt.Errorf("--look %g: give more than 0 and at most 60 seconds", g.look)}
	case !(g.wallMM >= 0 && g.wallMM <= 100) || !(g.distanceMM >= 0 && g.distanceMM <= 1e6):
		return usageError{errors.New("--wall-mm-per-px and --distance-mm are lengths in mm; measure them again")}
	case g.distanceMM > 0 && g.wallMM == 0:
		return usageError{errors.New("--distance-mm needs --wall-mm-per-px; measure how many mm of the wall a pixel shows")}
	case g.wallMM > 0 && !g.spot:
		return usageError{errors.New("--wall-mm-per-px is for --spot; give both")}
	}
	return nil
}

func (a *app) wobble(ctx context.Context, c config.Config, g wobbleFlags, args []string) error {
	if err := g.check(); err != nil {
		return err
	}
	t, err := a.newTool(c)
	if err != nil {
		return err
	}
	if len(args) == 0 {
		if t, err = a.openTool(ctx, c, g.clockFlags, func(n telescope.Night) telescope.Night { return n }); err != nil {
			return err
		}
		defer t.close()
	}
	if g.wallMM == 0 {
		if err := t.c.Validate(); err != nil {
			return err
		}
	}
	seatings, err := t.seatings(ctx, g, args)
	if err != nil {
		return err
	}
	out := json.NewEncoder(a.Stdout)
	emit := func(line any, words string) error {
		if g.json {
			return out.Encode(line)
		}
		_, err := fmt.Fprintln(a.Stdout, words)
		return err
	}
	if err := t.say(ctx, t.words("wobble.thanks")); err != nil {
		return err
	}
	mm, _ := t.c.Camera.Pixel()
	job := repeatability.Job{
		Meter: parts.AnyMeter(t.c), Telescope: t.c.Optics(), PixelMM: mm,
		Spot: g.spot, Turned: g.turned, WallMM: g.wallMM, DistanceMM: g.distanceMM,
	}
	r, err := job.Judge(ctx, seatings, func(l repeatability.LookLine) error { return emit(l, l.Words(t.words)) })
	if err != nil {
		return t.failed(ctx, len(seatings), err)
	}
	r.Said = r.Sentence(t.english)
	if err := emit(r, r.Words(t.words)); err != nil {
		return err
	}
	if r.Said != "" {
		if err := t.result(ctx, g.json, r.Sentence(t.words)); err != nil {
			return err
		}
	}
	if r.TOML == "" {
		return nil
	}
	return t.keep(ctx, g.write, !g.json, func(c *config.Config) {
		c.Camera.CentrePX = []float64{scalar.Round(r.Circle.X, 1), scalar.Round(r.Circle.Y, 1)}
	})
}

// seatings returns the looks: one from each file or folder, or, without any, from the
// camera, which the person moves between looks.
func (t *tool) seatings(ctx context.Context, g wobbleFlags, files []string) (all []repeatability.Seating, err error) {
	for _, name := range files {
		src, err := camera.Open(ctx, name, camera.Options{Frames: true})
		if err != nil {
			return nil, err
		}
		s, err := repeatability.Read(ctx, name, src)
		if err := errors.Join(err, src.Close()); err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	if len(files) > 0 {
		return all, nil
	}
	move := t.words("wobble.move")
	if g.turned {
		move = t.words("wobble.turn")
	}
	if err := t.say(ctx, t.words("wobble.first")); err != nil {
		return nil, err
	}
	return repeatability.Take(ctx, t.Source, g.looks, g.pause, g.look, func(i int) (string, error) {
		if i > 0 {
			if err := t.say(ctx, move); err != nil {
				return "", err
			}
			if g.turned && t.turn != nil {
				t.turn(float64(i) * math.Pi / 4)
			}
		}
		return t.words("wobble.number", i+1), nil
	})
}
