package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/measure"
	"halocue/internal/virtual"
	"halocue/vision"
	"halocue/vision/spikes"
	"halocue/vision/still"
)

// spikesFlags are the flags of spikes that are no settings.
type spikesFlags struct {
	json   bool
	clock  string
	fps    float64
	frames int
}

func newSpikesCommand(a *app) *cobra.Command {
	var g spikesFlags
	cmd := &cobra.Command{
		Use:   "spikes [FRAME...]",
		Short: "Tell from the spikes of a star in focus whether the secondary's vanes are straight",
		Long: `Measures the diffraction spikes of a bright star in focus: how many, which way,
and whether each is one line or two. A split spike tells that the vanes across it
are not in line: bent, twisted, or pulled by the secondary's holder. Spikes tell
nothing of the main mirror.

Frames, or a folder of them, are looks at one star. Without any the camera is
used, and the result is spoken too. Expose until the star itself is burnt out.
Never point the telescope at the Sun.`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, files []string) error {
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.spikes(cmd.Context(), c, g, files)
		},
	}
	settingFlags(cmd, "telescope", "camera", "sound", "voice")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print a JSON line")
	f.StringVar(&g.clock, "clock", "wall", "`CLOCK` of the camera: wall, or frames for time by the frame count")
	f.Float64Var(&g.fps, "fps", 10, "`N` frames a second, of files and of the frame clock")
	f.IntVar(&g.frames, "frames", 10, "`N` frames of the camera to look at")
	return cmd
}

func (a *app) spikes(ctx context.Context, c config.Config, g spikesFlags, files []string) error {
	var stack spikes.Stack
	say := func(string) error { return nil }
	if len(files) > 0 {
		files, err := frameFiles(files)
		if err != nil {
			return err
		}
		for _, name := range files {
			f, err := still.ReadFile(name)
			if err != nil {
				return err
			}
			if err := stack.Add(f); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
		}
	} else {
		if !(g.frames >= 1 && g.frames <= 10000) {
			return usageError{fmt.Errorf("--frames %d: give 1 to 10000", g.frames)}
		}
		t, err := a.openTool(ctx, c, g.clock, g.fps, inFocus)
		if err != nil {
			return err
		}
		defer t.close()
		c = t.c
		say = func(line string) error { return t.say(ctx, line) }
		if err := say("Hands off. I look at the star's spikes."); err != nil {
			return err
		}
		if err := stackUp(ctx, t.Source, &stack, g.frames); err != nil {
			return err
		}
	}
	r := stack.Measure()
	l := newSpikesLine(r, stack.Frames(), c.Telescope.ApertureMM)
	if g.json {
		if err := json.NewEncoder(a.stdout).Encode(l); err != nil {
			return err
		}
	}
	for _, line := range l.Words {
		if !g.json {
			if _, err := fmt.Fprintln(a.stdout, line); err != nil {
				return err
			}
		}
		if err := say(line); err != nil {
			return err
		}
	}
	return nil
}

// inFocus racks the virtual telescope to focus and opens its shutter long; one
// vane is bent, so that there is something to be told.
func inFocus(n virtual.Night) virtual.Night {
	n.Z, n.Exact, n.Grid = 0, true, 1024
	n.Star, n.Sky.Flux = r2.Vec{}, 3e7
	n.Spider.Bent = []float64{0, 0.05}
	return n
}

// stackUp stacks a number of frames, or as many as there are.
func stackUp(ctx context.Context, src vision.Source, s *spikes.Stack, frames int) error {
	for range frames {
		f, err := src.Next(ctx)
		switch {
		case errors.Is(err, vision.ErrBadFrame):
			continue
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return fmt.Errorf("looking at the star: %w", err)
		}
		if err := s.Add(f); err != nil {
			return err
		}
	}
	return nil
}

// spikesLine is the JSON line of spikes. Angles are degrees from the frame's
// right, clockwise, 0 to 180, since each is a line through the star.
type spikesLine struct {
	Found  bool        `json:"found"`
	Why    spikes.Why  `json:"why"`
	Frames int         `json:"frames"` // with a star in focus
	Star   *measure.XY `json:"star,omitempty"`
	Spikes int         `json:"spikes"`
	Lines  []lineLine  `json:"lines"`
	Words  []string    `json:"words"`
}

type lineLine struct {
	Angle      float64  `json:"angle_deg"`
	Sigma      float64  `json:"sigma_deg"`
	Vane       float64  `json:"vane_deg"` // of the vanes that make it
	Split      *float64 `json:"split_deg,omitempty"`
	SplitSigma *float64 `json:"sigma_split_deg,omitempty"`
	Limit      *float64 `json:"split_below_deg,omitempty"` // where it is one line
	Light      float64  `json:"light"`                     // of the brightest, 0 to 1
}

func newSpikesLine(r spikes.Result, frames int, apertureMM float64) spikesLine {
	l := spikesLine{Found: r.Found, Why: r.Why, Frames: frames, Spikes: 2 * len(r.Spikes), Lines: []lineLine{}, Words: r.Words(apertureMM)}
	if frames > 0 {
		l.Star = &measure.XY{X: r.Star.X, Y: r.Star.Y}
	}
	degrees := func(radians float64) *float64 { d := radians * 180 / math.Pi; return &d }
	for _, k := range r.Spikes {
		n := lineLine{Angle: *degrees(k.Angle), Sigma: *degrees(k.Sigma), Vane: *degrees(k.Vane()), Light: k.Light}
		if k.Double {
			n.Split, n.SplitSigma = degrees(k.Split), degrees(k.SplitSigma)
		} else {
			n.Limit = degrees(k.Limit)
		}
		l.Lines = append(l.Lines, n)
	}
	return l
}
