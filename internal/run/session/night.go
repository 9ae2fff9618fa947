package session

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/run"
	"halocue/internal/run/parts"
	"halocue/prompts"
	"halocue/prompts/voice"
)

// Night runs a night with the settings, and where that is wanted another after it.
func Night(ctx context.Context, w *parts.World, c config.Config, o Options, v Virtual) error {
	s, err := open(ctx, w, c, o, v)
	if err != nil {
		return err
	}
	defer s.parts.Source.Close()
	if !o.Frames {
		defer watchHost(ctx, w, c.Board, s.events)()
	}
	if err := s.transcribe(); err != nil {
		return err
	}
	for again := true; again && err == nil; {
		again, err = s.night(ctx)
	}
	return errors.Join(err, s.closeFiles())
}

// night runs one night, and reports whether the person wants another.
func (s *session) night(ctx context.Context) (again bool, err error) {
	p := s.parts
	if !s.Frames {
		if p.Warn, err = s.before(ctx); err != nil {
			return false, err
		}
	}
	if p.Hands == nil { // a real mount has no part in a virtual night
		drives, stop := haveMotors(ctx, s.world, s.c.Drive, s.events)
		defer stop()
		p.Drives = drives
	}
	p.Star = whichStar(s.c, time.Now)
	end := s.keep(ctx, &p)
	endRecording, err := s.recording(ctx, &p)
	if err != nil {
		return false, errors.Join(err, end(""))
	}
	out, err := play(ctx, s.world, s.c, s.FPS, s.Frames, p, s.events)
	s.world.Complain(end(out.Result)) // it was said
	endRecording(out.Result)
	if err != nil {
		return false, err
	}
	s.summary(out)
	if out.Frames > 0 && out.Bad == out.Frames && ctx.Err() == nil && s.unread() != nil {
		return false, fmt.Errorf("no frame was read: %w", s.unread())
	}
	return s.Wait && out.Result != "" && another(ctx, p.Commands), nil
}

// before says what goes before a night by the wall clock, the caution while the Sun is
// up and a first night's lesson, and returns what the night itself begins with.
func (s *session) before(ctx context.Context) (warn []string, err error) {
	now, isVirtual := s.world.Now(), s.parts.Hands != nil
	if !isVirtual && !s.ByDay && byDay(s.c, now) {
		if err := daylight(ctx, s.world, s.c, s.parts.Commands, s.events); err != nil {
			return nil, err
		}
	}
	warn = greeting(ctx, s.Journal, isVirtual, s.world.Now())
	if s.Journal == "none" || !slices.Contains(warn, "welcome") || !waits(s.c.Camera.Source) {
		return warn, nil
	}
	warn, err = underWatch(ctx, s.parts.Source, parts.Meter(s.c), func(ctx context.Context) ([]string, error) {
		return welcome(ctx, s.world, s.c, warn, s.parts.Commands)
	})
	if ctx.Err() != nil { // the night ends in words
		err = nil
	}
	return warn, err
}

// Run runs a night of the given parts, with those that follow from the settings.
func Run(ctx context.Context, w *parts.World, c config.Config, fps float64, frames bool, p run.Parts) (run.Outcome, error) {
	return play(ctx, w, c, fps, frames, p, make(chan run.DeviceEvent, 64))
}

// play adds the parts that follow from the settings, and runs the night. A p with a Coach
// must also have what measures for it.
func play(ctx context.Context, w *parts.World, c config.Config, fps float64, frames bool, p run.Parts, events chan run.DeviceEvent) (run.Outcome, error) {
	var none run.Outcome
	c = parts.RecordableVoice(w, c, frames)
	for _, pair := range parts.Alike(ctx, c.Voice, c.MirrorCell.Knobs) {
		fmt.Fprintf(w.Stderr, "halocue: %s and %s sound alike in the wind; halocue setup gives a knob another name\n", pair[0], pair[1])
	}
	phrases, err := parts.Phrases(c.Voice)
	if err != nil {
		return none, err
	}
	p.Devices, p.Narrator = events, prompts.NewNarrator(phrases)
	v, err := parts.Voice(c.Voice, events)
	if err != nil {
		return none, err
	}
	speaker := voice.NewSpeaker(v)
	defer speaker.Close()
	p.Speech = speaker
	p.Speed = func(factor float64) bool {
		faster := c.Voice
		faster.SpeedWPM *= factor
		v, err := parts.Voice(faster, events)
		if err != nil { // as fast, or as slow, as it can
			return false
		}
		c.Voice = faster
		speaker.Use(v)
		return true
	}
	if p.Mixer, err = parts.Mixer(c.Sound); err != nil {
		return none, err
	}
	if p.Sink, err = parts.OpenSink(ctx, c.Sound, p.Mixer, events); err != nil {
		return none, err
	}
	defer p.Sink.Close()
	if p.Echo != nil {
		p.Echo = w.Shown(c, p.Echo)
	}
	if p.Coach == nil {
		if p.Coach, err = parts.Coach(c, fps, p.Memory, p.Hands == nil); err != nil {
			return none, err
		}
		p.Figure = parts.FigureMeter(c)
		if p.Hands == nil { // the virtual telescope's rings have no fringes, and its pixel is known
			p.Figure.Careful(parts.Meter(c), !frames)
		}
		p.Meter = p.Figure
	}
	if frames {
		return run.Frames(ctx, p, fps)
	}
	if card, ok := p.Sink.(*device.Card); ok && c.Sound.Microphone {
		if c.Voice.Language != "en" {
			p.Warn = append(p.Warn, "english-only")
		}
		commands, deafen := listen(ctx, card, p.Mixer, p.Commands, events)
		defer deafen()
		p.Commands = commands
	}
	stop := pump(p.Sink)
	usual := phrases.Ahead(knobNames(c), never(c)...)
	prepared := beside(ctx, func(ctx context.Context) { _ = speaker.Prepare(ctx, usual) }) // errors are reported when the words are needed
	out, err := run.Live(ctx, p)
	prepared()
	return out, errors.Join(err, stop())
}

// pump makes a sink without a clock keep real time, until the returned function
// is called. A sound card has a clock of its own, to which this does nothing.
func pump(s audio.Sink) (stop func() error) {
	var err error
	end := beside(context.Background(), func(ctx context.Context) { err = audio.Pump(ctx, s) })
	return func() error {
		end()
		return err
	}
}

// beside does work in a goroutine of its own, until the returned function is called, which
// waits for its end.
func beside(ctx context.Context, work func(context.Context)) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		work(ctx)
	}()
	return func() {
		cancel()
		<-done
	}
}

// never is what cannot be said in a night of the settings.
func never(c config.Config) (codes []string) {
	if !c.MirrorCell.Locks {
		codes = append(codes, "lock", "lock-pulls")
	}
	if c.Drive.Mount == "" && c.Drive.Focuser == "" {
		codes = append(codes, "drive-centre", "drive-focus", "drive-through", "drive-stopped", "drive-lost")
	}
	return codes
}

func knobNames(c config.Config) (names []string) {
	for _, k := range c.MirrorCell.Knobs {
		names = append(names, k.Name)
	}
	return names
}
