package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/frame"
	"halocue/internal/virtual"
	"halocue/vision"
	"halocue/vision/camera"
	"halocue/vision/still"
)

// wobbleFlags are the flags of wobble that are no settings.
type wobbleFlags struct {
	json, spot, turned bool
	write              bool
	clock              string
	fps, pause, look   float64
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
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.wobble(cmd.Context(), c, g, args)
		},
	}
	settingFlags(cmd, "telescope", "camera", "sound", "voice")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print JSON lines")
	f.BoolVar(&g.write, "write", false, "write the focuser's centre into the settings without asking")
	f.BoolVar(&g.spot, "spot", false, "the place of the light counts, not the axis point")
	f.BoolVar(&g.turned, "turned", false, "camera or tool is turned round between looks")
	f.Float64Var(&g.wallMM, "wall-mm-per-px", 0, "`MM` of the wall or mirror in a pixel, for a tool's spot on it")
	f.Float64Var(&g.distanceMM, "distance-mm", 0, "`MM` from the tool to the wall or mirror")
	f.StringVar(&g.clock, "clock", "wall", "`CLOCK`: wall, or frames for time by the frame count")
	f.Float64Var(&g.fps, "fps", 10, "`N` frames a second, of files and of the frame clock")
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

// seating is the frames of one look.
type seating struct {
	name   string
	frames []*frame.Frame
}

func (a *app) wobble(ctx context.Context, c config.Config, g wobbleFlags, args []string) error {
	if err := g.check(); err != nil {
		return err
	}
	var seatings []seating
	say, tell := func(string) error { return nil }, func(line string) error { _, err := fmt.Fprintln(a.stderr, line); return err }
	if len(args) > 0 {
		for _, name := range args {
			s, err := readSeating(ctx, name)
			if err != nil {
				return err
			}
			seatings = append(seatings, s)
		}
	} else {
		t, err := a.openTool(ctx, c, g.clock, g.fps, func(n virtual.Night) virtual.Night { return n })
		if err != nil {
			return err
		}
		defer func() { t.close() }()
		c = t.c
		say = func(line string) error { return t.say(ctx, line) }
		tell = say
		if seatings, err = t.seat(ctx, g); err != nil {
			return err
		}
	}
	if g.wallMM == 0 {
		if err := c.Validate(); err != nil {
			return err
		}
	}
	out := json.NewEncoder(a.stdout)
	emit := func(line any, words string) error {
		if g.json {
			return out.Encode(line)
		}
		_, err := fmt.Fprintln(a.stdout, words)
		return err
	}
	if err := say("Thank you. I work it out."); err != nil {
		return err
	}
	r, err := g.judge(ctx, c, seatings, emit)
	if err != nil {
		return errors.Join(err, say("It did not work out: "+inner(err)+"."))
	}
	if err := errors.Join(emit(r, r.words()), say(r.Said)); err != nil || r.TOML == "" {
		return err
	}
	return a.keep(ctx, c, keeping{g.write, !g.json}, tell, func(c *config.Config) {
		c.Camera.CentrePX = []float64{rounded(r.Circle.X, 1), rounded(r.Circle.Y, 1)}
	})
}

// mostFrames is the most frames that one look keeps.
const mostFrames = 30

// readSeating reads a file, or every picture in a folder, as one look.
func readSeating(ctx context.Context, name string) (seating, error) {
	s := seating{name: name}
	if info, err := os.Stat(name); err != nil || !info.IsDir() {
		f, err := still.ReadFile(name)
		s.frames = append(s.frames, f)
		return s, err
	}
	src, err := camera.Open(ctx, name, camera.Options{Frames: true})
	if err != nil {
		return s, err
	}
	defer src.Close()
	for len(s.frames) < mostFrames {
		f, err := src.Next(ctx)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return s, err
		}
		s.keep(f)
	}
	return s, nil
}

func (s *seating) keep(f *frame.Frame) {
	own := *f
	own.Pix = slices.Clone(f.Pix)
	s.frames = append(s.frames, &own)
}

// seat has the person move the camera and takes the looks, until there are enough
// or the camera ends.
func (t *tool) seat(ctx context.Context, g wobbleFlags) ([]seating, error) {
	move := "Push the camera, turn it, or take it out and seat it again. Then hands off."
	if g.turned {
		move = "Turn it by an eighth of a turn. Then hands off."
	}
	if err := t.say(ctx, "Keep everything else still. First look: hands off."); err != nil {
		return nil, err
	}
	var all []seating
	for i := range g.looks {
		if i > 0 {
			if err := t.say(ctx, move); err != nil {
				return all, err
			}
			if g.turned && t.turn != nil {
				t.turn(float64(i) * math.Pi / 4)
			}
		}
		s := seating{name: fmt.Sprintf("look %d", i+1)}
		ended, err := t.fill(ctx, &s, g)
		if len(s.frames) > 0 {
			all = append(all, s)
		}
		if ended || err != nil {
			return all, err
		}
	}
	return all, nil
}

// fill waits for the pause to be over and keeps the frames after it.
func (t *tool) fill(ctx context.Context, s *seating, g wobbleFlags) (ended bool, err error) {
	begin := math.NaN()
	for {
		f, err := t.Next(ctx)
		if errors.Is(err, vision.ErrBadFrame) {
			continue
		}
		if errors.Is(err, io.EOF) {
			return true, nil
		}
		if err != nil {
			return true, fmt.Errorf("taking a look: %w; check the camera, and begin again", err)
		}
		now := f.T.Seconds()
		if math.IsNaN(begin) {
			begin = now
		}
		if now-begin >= g.pause && len(s.frames) < mostFrames {
			s.keep(f)
		}
		if now-begin >= g.pause+g.look {
			return false, nil
		}
	}
}
