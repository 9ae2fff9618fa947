package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/frame"
	"halocue/internal/guide"
	"halocue/internal/journal"
	"halocue/internal/rough"
	"halocue/internal/virtual"
	scene "halocue/internal/virtual/peephole"
	"halocue/vision"
	"halocue/vision/peephole"
)

func newIndoorsCommand(a *app) *cobra.Command {
	var g guideFlags
	cmd := &cobra.Command{
		Use:   "indoors",
		Short: "Align both mirrors roughly by day, by ear",
		Long: `Watches the inside of the tube through a camera at a small hole in a plug in the
focuser, and says which screw to turn: first the secondary's three small screws,
until the main mirror is seen with an even margin all round; then the main mirror's
knobs, until the ring mark in its middle stands on the dark reflection of the hole.
It wants daylight or a lamp on a light wall. A star by night does the rest.

Never let the Sun shine into the tube. Lay the tube level; nothing loose over an
open tube. The camera is named as for guide; virtual, or virtual:SEED, is a
built-in telescope with hands of its own.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.indoors(cmd.Context(), c, g)
		},
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "sound", "voice")
	f := cmd.Flags()
	f.StringVar(&g.clock, "clock", "wall", "`CLOCK`: wall, or frames for time by the frame count")
	f.Float64Var(&g.fps, "fps", 5, "`N` frames a second, of files and of the frame clock")
	f.StringVar(&g.transcript, "transcript", "", "`FILE` for what happens as JSON lines, - for standard output")
	f.StringVar(&g.journal, "journal", "", "`FILE` to which the day is added, or none; if not given, the usual one, and none for the virtual telescope")
	return cmd
}

// indoors runs a day with the settings.
func (a *app) indoors(ctx context.Context, c config.Config, g guideFlags) error {
	frames := g.clock == "frames"
	if !frames && g.clock != "wall" {
		return usageError{fmt.Errorf("--clock %q: choose wall or frames", g.clock)}
	}
	if !(g.fps >= 0.1 && g.fps <= 1000) {
		return usageError{fmt.Errorf("--fps %g: give 0.1 to 1000", g.fps)}
	}
	seed, isVirtual, err := virtualSeed(c.Camera.Source)
	if err != nil {
		return err
	}
	events := make(chan guide.DeviceEvent, 64)
	p := guide.Parts{Devices: events, Warn: []string{"indoors"}}
	var dream *scene.Source
	if isVirtual {
		g.journal = cmp.Or(g.journal, "none")
		dream = scene.NewSource(scene.Demo(seed), virtual.SourceOptions{FPS: g.fps, Wall: !frames, Closed: vision.ErrClosed})
		c = sceneSettings(c, dream.Scene())
		p.Source, p.Hands = dream, dream.Hear
	}
	if err := c.Validate(); err != nil {
		return err
	}
	if p.Source == nil {
		if p.Source, err = a.openSource(ctx, c, g, frames, events); err != nil {
			return err
		}
	}
	if !frames {
		p.Source = vision.Newest(p.Source)
		if c.Camera.Source != "-" {
			p.Commands = a.fingers(ctx, events)
		}
	}
	defer p.Source.Close()
	if p.Coach, err = rough.New(roughSettings(c)); err != nil {
		return err
	}
	p.Look = lookDown(c)
	closeFiles, err := a.guideFiles(g, &p)
	if err != nil {
		return err
	}
	endDay := a.keepNight(ctx, c, g, &p)
	p.Memory = nil // a night teaches no day
	if p.Recorder != nil {
		err = p.Recorder.Record(session{Event: "session", Kind: journal.Indoors})
	}
	out, failed := a.night(ctx, c, g.fps, frames, p, events)
	if kept := errors.Join(err, endDay(out.Result)); kept != nil { // the day is as good without
		fmt.Fprintf(a.stderr, "halocue: %v\n", kept)
	}
	if err = errors.Join(failed, closeFiles()); err != nil {
		return err
	}
	fmt.Fprintf(a.stderr, "%d frames, %d of them unreadable, %.1f seconds, result: %s\n", out.Frames, out.Bad, out.Time, orNone(out.Result))
	if dream != nil {
		tr := dream.Truth()
		fmt.Fprintf(a.stderr, "In truth the mirror's axis passes the focuser's at %.2f mm, and the hole in the plug is %.2f mm off.\n", r2.Norm(tr.Axis), r2.Norm(tr.Peephole))
	}
	return nil
}

// session says in the journal that this is no night.
type session struct {
	T     float64 `json:"t"`
	Event string  `json:"event"` // session
	Kind  string  `json:"kind"`
}

// roughSettings are what the coach by day must know.
func roughSettings(c config.Config) rough.Settings {
	s := rough.Settings{Telescope: c.Optics(), PitchMM: c.MirrorCell.ScrewPitchMM, BoltRadiusMM: c.ScrewRadius(), Locks: c.MirrorCell.Locks, EarDelayS: c.Sound.DelayMS / 1000}
	for _, k := range c.MirrorCell.Knobs {
		s.Knobs = append(s.Knobs, coach.Knob{Name: k.Name, Clock: k.Clock})
	}
	return s
}

// lookDown makes the measurement by day.
func lookDown(c config.Config) func(t float64, f *frame.Frame) coach.Sight {
	meter := peephole.NewMeter(peephole.Config{Aperture: c.Telescope.ApertureMM})
	return func(t float64, f *frame.Frame) coach.Sight {
		v := meter.Measure(f)
		s := coach.Sight{T: t, Width: f.Width, Height: f.Height, Found: v.Found, Why: string(v.Why), Level: v.Level}
		if v.Found {
			s.Down = &coach.Down{
				Primary: v.Primary.Centre, Secondary: v.Secondary.Centre, PrimaryRadius: v.Primary.Radius, SecondaryRadius: v.Secondary.Radius,
				Focuser: v.Focuser.Centre, FocuserRadius: v.Focuser.Radius, Whole: v.Whole, OffSigma: v.Secondary.Sigma + v.Primary.Sigma,
				Marked: v.Marked, Reflected: v.Reflected, Mark: v.Mark, Spot: v.Spot, SpotSigma: v.Sigma, SpotRadius: v.SpotPX, Around: v.Around[:],
			}
		}
		return s
	}
}

// sceneSettings makes the settings agree with the virtual telescope.
func sceneSettings(c config.Config, s scene.Scene) config.Config {
	c.Telescope = config.Telescope{ApertureMM: s.Aperture, FocalLengthMM: s.FocalLength, SecondaryMM: s.Secondary, SecondaryDistanceMM: s.SecondaryDistance}
	c.MirrorCell = config.MirrorCell{ScrewPitchMM: s.Cell.Pitch, ScrewCircleRadiusMM: s.Cell.BoltRadius, Kind: s.Cell.Kind}
	for _, k := range s.Cell.Knobs {
		c.MirrorCell.Knobs = append(c.MirrorCell.Knobs, config.Knob{Name: k.Name, Clock: k.Clock})
	}
	return c
}
