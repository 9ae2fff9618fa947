package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/internal/sky"
)

// starFlags are the flags of star that are no settings.
type starFlags struct {
	at, target     string
	json, daylight bool
	number         int
}

func newStarCommand(a *app) *cobra.Command {
	var g starFlags
	cmd := &cobra.Command{
		Use:   "star",
		Short: "Tell which star to point at, now and for the next hour",
		Long: `Tells which stars suit, the best first, and where they stand: bright enough,
high, single, and slow where the mount does not follow the sky. A fist at arm's
length covers ten degrees. The first is spoken too; --sound none prints only. It
needs the place, from the settings or from --latitude and --longitude.

Never point a telescope at the Sun, nor sweep past it. While the Sun is up this
command names no star unless you say --daylight.`,
		Example: "halocue star --latitude 51.5 --longitude -0.1\nhalocue star --at 21:00 --target south-east",
		Args:    noArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return a.star(cmd, g) },
	}
	settingFlags(cmd, "site", "sound", "voice")
	oneSetting(cmd, "drive.tracking")
	f := cmd.Flags()
	for _, name := range []string{"curve", "delay-ms", "highest-hz", "lowest-hz", "microphone", "reference", "tone", "verbosity", "waveform"} {
		f.Lookup(name).Hidden = true // of the tone, which star does not play
	}
	f.StringVar(&g.at, "at", "", "`TIME` as on your clock, 21:00, or whole, 2026-12-01T21:00:00Z or 2026-12-01T22:00:00+01:00; if not given, now")
	f.BoolVar(&g.json, "json", false, "print JSON lines, one for every star that suits")
	f.StringVar(&g.target, "target", "", "`WHERE` it should stand near: a bright star's name, or a direction, such as south-east")
	f.BoolVar(&g.daylight, "daylight", false, "name stars although the Sun is up; none within 45 degrees of it")
	f.IntVar(&g.number, "number", 5, "`N` stars in the printed list, at most")
	return cmd
}

func (a *app) star(cmd *cobra.Command, g starFlags) error {
	c, err := a.settings(cmd)
	if err != nil {
		return err
	}
	lat, lon := cmd.Flags().Changed("latitude"), cmd.Flags().Changed("longitude")
	if lat != lon && (lat && c.Site.LongitudeDeg == 0 || lon && c.Site.LatitudeDeg == 0) {
		return usageError{errors.New("half a place: give both --latitude and --longitude, in degrees, north and east positive")}
	}
	w, err := g.wish(c, lat && lon)
	if err != nil {
		return err
	}
	say, english, err := parts.Sentences(c.Voice)
	if err != nil {
		return err
	}
	sun := w.Site.Sun(w.At)
	if sky.Brightness(sun.AltitudeDeg) == sky.Day {
		if !w.Daylight {
			return sky.SunIsUp(w, sun, english)
		}
		fmt.Fprintf(a.Stderr, "halocue: DANGER: the Sun is up, %s. Light from it through a telescope blinds at once. Keep the tube covered until it points well away, and never sweep past the Sun.\n", sun.Point(english))
	}
	choices := sky.Choose(w)
	if len(choices) == 0 {
		return fmt.Errorf("no star that is bright enough stays %.0f degrees high for an hour from %s; try --at an hour later, or a lower --roof-line-deg", max(w.RoofDeg, 10), sky.Clock(english, w.At))
	}
	if g.json {
		out := json.NewEncoder(a.Stdout)
		for _, s := range choices {
			if err := out.Encode(sky.NewLine(s, w.RoofDeg, english)); err != nil {
				return err
			}
		}
		return nil
	}
	head, best, rest := sky.List(say, w, sun, choices[:min(len(choices), max(1, g.number))])
	out, err := aloud.Open(cmd.Context(), c, c.Voice.Language)
	//lint:ignore SA5001 with an error it returns what makes no sound
	defer out.Close()
	if err != nil {
		fmt.Fprintf(a.Stderr, "halocue: %v; the star is printed, not spoken\n", err)
	}
	fmt.Fprintln(a.Stdout, head)
	fmt.Fprintln(out.Shown(&a.World, a.Stdout), best)
	if _, err := fmt.Fprintln(a.Stdout, strings.Join(rest, "\n")); err != nil {
		return err
	}
	return out.Say(cmd.Context(), best)
}

// wish reads what is asked for. given tells that the place is in the flags: there
// latitude and longitude may be 0.
func (g starFlags) wish(c config.Config, given bool) (sky.Wish, error) {
	if !c.Site.Known() && !given {
		return sky.Wish{}, fmt.Errorf("the place is not known; answer the last question of halocue setup, or give --latitude and --longitude in degrees, north and east positive")
	}
	w := parts.Wish(c, time.Now())
	w.Daylight = g.daylight
	if g.at != "" {
		t, err := sky.ParseTime(g.at, w.At)
		if err != nil {
			return w, usageError{fmt.Errorf("--at %w", err)}
		}
		w.At = t
	}
	if g.target != "" {
		h, ok := w.Place(g.target)
		if !ok {
			return w, usageError{fmt.Errorf("--target %q: give a bright star's name, or a direction such as south-east", g.target)}
		}
		w.Target = &h
	}
	return w, nil
}
