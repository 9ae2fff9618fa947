package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/guide"
	"halocue/internal/virtual"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision"
)

// guideFlags are the flags of guide that are no settings.
type guideFlags struct {
	clock      string
	fps        float64
	transcript string
	journal    string
	wait       bool
	byDay      bool
}

func newGuideCommand(a *app) *cobra.Command {
	var g guideFlags
	cmd := &cobra.Command{
		Use:   "guide",
		Short: "Guide the hands at the mirror by voice and tone",
		Long: `Watches the star and says which knob to turn, which way, how far, and when to
stop, until the mirror is true. Put a bright star out of focus in the middle of
the frame, and listen. Ctrl-C ends it.

The camera is one of: a device number or path; "-" for MJPEG on standard input;
a video file; a folder of frames; a GStreamer pipeline; an http address that
sends MJPEG; virtual, or virtual:SEED, for the built-in telescope.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			try := func() (config.Config, error) {
				c, err := a.settings(cmd)
				if err == nil {
					err = a.guide(cmd.Context(), c, g)
				}
				return c, err
			}
			if g.wait {
				return a.patiently(cmd.Context(), try)
			}
			_, err := try()
			return err
		},
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "sound", "voice", "board", "drive")
	f := cmd.Flags()
	f.StringVar(&g.clock, "clock", "wall", "`CLOCK`: wall, or frames for time by the frame count")
	f.Float64Var(&g.fps, "fps", 10, "`N` frames a second, of files and of the frame clock")
	f.StringVar(&g.transcript, "transcript", "", "`FILE` for what happens as JSON lines, - for standard output")
	f.StringVar(&g.journal, "journal", "", "`FILE` to which the night is added, or none; if not given, the usual one, and none for the virtual telescope")
	f.BoolVar(&g.wait, "wait", false, "wait for a camera that is not there yet, for settings that are missing, and after a night for the button or the words that begin another")
	f.BoolVar(&g.byDay, "by-day", false, "begin though the Sun is up, without being asked")
	return cmd
}

// guide runs a night with the settings.
func (a *app) guide(ctx context.Context, c config.Config, g guideFlags) error {
	frames := g.clock == "frames"
	if !frames && g.clock != "wall" {
		return usageError{fmt.Errorf("--clock %q: choose wall or frames", g.clock)}
	}
	if !(g.fps >= 0.1 && g.fps <= 1000) {
		return usageError{fmt.Errorf("--fps %g: give 0.1 to 1000", g.fps)}
	}
	if frames && c.Drive.Mount+c.Drive.Focuser != "" {
		return usageError{errors.New("--mount and --focuser move by the wall clock only; leave --clock frames out")}
	}
	seed, isVirtual, err := virtualSeed(c.Camera.Source)
	if err != nil {
		return err
	}
	events := make(chan guide.DeviceEvent, 64)
	p := guide.Parts{Devices: events}
	if isVirtual {
		g.journal = cmp.Or(g.journal, "none")
		src := virtual.NewSource(virtual.Demo(seed), virtual.SourceOptions{FPS: g.fps, Wall: !frames, Closed: vision.ErrClosed})
		c = virtualSettings(c, src.Night())
		p.Source, p.Hands = src, src.Hear
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
		defer a.mind(ctx, c, events)()
		p.Source = vision.Newest(p.Source)
		if c.Camera.Source != "-" {
			p.Commands = a.fingers(ctx, events)
		}
	}
	defer p.Source.Close()
	closeFiles, err := a.guideFiles(g, &p)
	if err != nil {
		return err
	}
	for again := true; again && err == nil; {
		again, err = a.oneNight(ctx, c, g, frames, p, events)
	}
	return errors.Join(err, closeFiles())
}

// oneNight runs one night, and tells whether the person wants another.
func (a *app) oneNight(ctx context.Context, c config.Config, g guideFlags, frames bool, p guide.Parts, events chan guide.DeviceEvent) (again bool, err error) {
	if !frames {
		if p.Hands == nil && !g.byDay && byDay(c, a.now()) {
			if err := a.daylight(ctx, c, p.Commands, events); err != nil {
				return false, err
			}
		}
		p.Warn = a.greeting(ctx, g, p.Hands != nil, a.now())
		if g.journal != "none" && slices.Contains(p.Warn, "welcome") && waits(c.Camera.Source) {
			p.Warn, err = underWatch(ctx, p.Source, newMeter(c), func(ctx context.Context) ([]string, error) {
				return a.welcome(ctx, c, p.Warn, p.Commands)
			})
			if err != nil && ctx.Err() == nil {
				return false, err
			}
		}
	}
	if p.Hands == nil { // a real mount has no part in a virtual night
		drives, stop := a.motors(ctx, c.Drive, events)
		defer stop()
		p.Drives = drives
	}
	p.Star = whichStar(c, time.Now)
	endNight := a.keepNight(ctx, c, g, &p)
	out, err := a.night(ctx, c, g.fps, frames, p, events)
	if failed := endNight(out.Result); failed != nil { // it was said, and the night is as good without
		fmt.Fprintf(a.stderr, "halocue: %v\n", failed)
	}
	if err != nil {
		return false, err
	}
	fmt.Fprintf(a.stderr, "%d frames, %d of them unreadable, %.1f seconds, result: %s\n", out.Frames, out.Bad, out.Time, orNone(out.Result))
	return g.wait && out.Result != "" && another(ctx, p.Commands), nil
}

func orNone(result string) string {
	if result == "" {
		return "none"
	}
	return result
}

// guideFiles opens transcript and journal. The words are echoed to a person: on
// standard output, or on standard error where the transcript has that.
func (a *app) guideFiles(g guideFlags, p *guide.Parts) (close func() error, err error) {
	var files []io.Closer
	close = func() error {
		var errs []error
		for _, f := range files {
			errs = append(errs, f.Close())
		}
		return errors.Join(errs...)
	}
	p.Echo = a.stdout
	switch g.transcript {
	case "":
	case "-":
		p.Transcript, p.Echo = guide.NewTranscript(a.stdout), a.stderr
	default:
		f, err := os.Create(g.transcript)
		if err != nil {
			return nil, fmt.Errorf("opening the transcript: %w; choose a place that can be written", err)
		}
		files = append(files, f)
		p.Transcript = guide.NewTranscript(f)
	}
	return close, nil
}

// keepNight has the night written into the journal. A journal that cannot be
// written is no reason to stop: it is said, and the night goes on without it.
func (a *app) keepNight(ctx context.Context, c config.Config, g guideFlags, p *guide.Parts) (end func(result string) error) {
	nothing := func(string) error { return nil }
	if g.journal == "none" {
		return nothing
	}
	path := cmp.Or(g.journal, journalPath(a.env))
	var err error
	if p.Memory, err = remembered(ctx, path, c, a.now()); err != nil {
		fmt.Fprintf(a.stderr, "halocue: %v; the knobs are learned anew\n", err)
	}
	n, end, err := beginNight(path, c)
	if err != nil {
		fmt.Fprintf(a.stderr, "halocue: %v\n", err)
		p.Warn = append(p.Warn, "journal-off")
		return nothing
	}
	p.Recorder = n
	return end
}

// night adds the parts that follow from the settings, and runs the night; a Coach
// that is there already brings its own Look. The telescope's corrector is refused in
// words before anything else.
func (a *app) night(ctx context.Context, c config.Config, fps float64, frames bool, p guide.Parts, events chan guide.DeviceEvent) (guide.Outcome, error) {
	var none guide.Outcome
	c = a.mixed(c, frames)
	phrases, err := newPhrases(c.Voice)
	if err != nil {
		return none, err
	}
	p.Devices, p.Narrator = events, prompts.NewNarrator(phrases)
	v, err := newVoice(c.Voice, events)
	if err != nil {
		return none, err
	}
	speaker := voice.NewSpeaker(v)
	defer speaker.Close()
	p.Speech = speaker
	p.Speed = func(factor float64) bool {
		faster := c.Voice
		faster.SpeedWPM *= factor
		v, err := newVoice(faster, events)
		if err != nil { // as fast, or as slow, as it can
			return false
		}
		c.Voice = faster
		speaker.Use(v)
		return true
	}
	if p.Desk, err = newDesk(c.Sound); err != nil {
		return none, err
	}
	if p.Sink, err = openSink(ctx, c.Sound, p.Desk, events); err != nil {
		return none, err
	}
	defer p.Sink.Close()
	if p.Coach == nil {
		if p.Coach, err = newCoach(c, fps, p.Memory); err != nil {
			return none, err
		}
		p.Figure = newFigure(c)
		p.Meter = p.Figure
	}
	if frames {
		return guide.Frames(ctx, p, fps)
	}
	if card, ok := p.Sink.(*device.Card); ok && c.Sound.Microphone {
		commands, deafen := listen(ctx, card, p.Desk, p.Commands, events)
		defer deafen()
		p.Commands = commands
	}
	stop := pump(p.Sink)
	prepared := prepare(ctx, speaker, phrases.Ahead(knobNames(c)...))
	out, err := guide.Live(ctx, p)
	prepared()
	return out, errors.Join(err, stop())
}

// pump makes a sink without a clock keep real time, until the returned function
// is called. A sound card has a clock of its own, to which this does nothing.
func pump(s audio.Sink) (stop func() error) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- audio.Pump(ctx, s) }()
	return func() error {
		cancel()
		return <-done
	}
}

// prepare has the usual words spoken ahead, until the returned function is called.
// What fails there fails again, and is told, when the words are needed.
func prepare(ctx context.Context, s *voice.Speaker, texts []string) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = s.Prepare(ctx, texts)
	}()
	return func() {
		cancel()
		<-done
	}
}

func knobNames(c config.Config) (names []string) {
	for _, k := range c.MirrorCell.Knobs {
		names = append(names, k.Name)
	}
	return names
}
