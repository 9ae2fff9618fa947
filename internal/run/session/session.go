// Package session runs a night or a day from the settings: it makes the parts, brings in
// what lies around them (camera, microphone, buttons, motors, journal, the computer
// itself), says what goes before, and hands all of it to package run.
package session

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"

	"halocue/config"
	"halocue/internal/cue"
	"halocue/internal/journal"
	"halocue/internal/plain"
	"halocue/internal/run"
	"halocue/internal/run/parts"
	"halocue/vision"
)

// Options of a night or a day that are no settings.
type Options struct {
	Frames     bool    // time by the frame count, not by the wall clock
	FPS        float64 // of files, and of the frame clock
	Transcript string  // file, "-" for standard output, "" for none
	Journal    string  // file, "none", or "" for the usual one
	Record     string  // folder for this night, or ""
	Version    string  // of the program, for the journal
	Wait       bool    // for a camera that is not there yet, and for another night after this one
	ByDay      bool    // begin though the Sun is up
}

// Virtual is a telescope that stands in for camera and hands; its zero value is none.
type Virtual struct {
	Source vision.Source
	Hands  func(cue.Instruction)
}

// session is a night or a day, from the opening of its camera on.
type session struct {
	Options
	world  *parts.World
	c      config.Config
	parts  run.Parts // all that does not change from night to night
	events chan run.DeviceEvent
	files  []io.Closer

	transcript io.Writer    // that was asked for, or nil
	recorded   bool         // a night was
	unread     func() error // why the first frame that could not be read was not, or nil
}

// open opens the camera, or takes the virtual one. By the wall clock it also begins to
// listen to buttons and standard input.
func open(ctx context.Context, w *parts.World, c config.Config, o Options, v Virtual) (*session, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	s := &session{Options: o, world: w, c: c, events: make(chan run.DeviceEvent, 64)}
	s.parts = run.Parts{Source: v.Source, Hands: v.Hands, Devices: s.events}
	if v.Hands != nil {
		s.Journal = cmp.Or(s.Journal, "none")
	}
	s.Journal = cmp.Or(s.Journal, journal.Path(w.Env))
	var err error
	if s.parts.Source == nil {
		if s.parts.Source, err = parts.OpenSource(ctx, w, c.Camera, parts.Camera{FPS: o.FPS, Frames: o.Frames, Wait: o.Wait}, s.events); err != nil {
			return nil, err
		}
	} else if !o.Frames {
		s.parts.Source = vision.Newest(s.parts.Source)
	}
	reason := &vision.Reason{Source: s.parts.Source}
	s.parts.Source, s.unread = reason, reason.First
	if !o.Frames && c.Camera.Source != "-" {
		s.parts.Commands = manualCommands(ctx, w, s.events)
	}
	return s, nil
}

// transcribe opens the transcript. The words are echoed to a person: on standard
// output, or on standard error where the transcript has that.
func (s *session) transcribe() (err error) {
	s.parts.Echo = s.world.Stdout
	switch s.Transcript {
	case "":
	case "-":
		s.transcript, s.parts.Echo = s.world.Stdout, s.world.Stderr
	default:
		f, err := createTranscript(s.Transcript)
		if err != nil {
			return fmt.Errorf("opening the transcript: %w; choose a place that can be written", err)
		}
		s.files = append(s.files, f)
		s.transcript = &plain.Writer{To: f}
	}
	if s.transcript != nil {
		s.parts.Transcript = run.NewTranscript(s.transcript)
	}
	return nil
}

func (s *session) closeFiles() error {
	var errs []error
	for _, f := range s.files {
		errs = append(errs, f.Close())
	}
	return errors.Join(errs...)
}

// keep begins to write the night into the journal. If that fails, the person is told, and
// the night goes on without.
func (s *session) keep(ctx context.Context, p *run.Parts) (end func(result string) error) {
	nothing := func(string) error { return nil }
	if s.Journal == "none" {
		return nothing
	}
	var err error
	if p.Memory, err = remembered(ctx, s.Journal, s.c, s.world.Now()); err != nil {
		fmt.Fprintf(s.world.Stderr, "halocue: %v; the knobs are learned anew\n", err)
	}
	n, aside, end, err := beginNight(s.Journal, s.Version, s.c)
	if err != nil {
		s.world.Complain(err)
		p.Warn = append(p.Warn, "journal-off")
		return nothing
	}
	if aside != "" {
		fmt.Fprintf(s.world.Stderr, "halocue: the journal %s was damaged; it is kept as %s, and a new one begun\n", s.Journal, aside)
		p.Warn = append(p.Warn, "journal-new")
	}
	p.Recorder = n
	return end
}

// createTranscript opens a new file, or an empty one: what is in one already may be the
// only copy of a night. A named pipe that nobody reads fails at once.
func createTranscript(path string) (*os.File, error) {
	if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() && info.Size() > 0 {
		return nil, fmt.Errorf("%s holds something already; name another file, or delete it", plain.Text(path, 200))
	}
	return os.OpenFile(path, os.O_WRONLY|os.O_CREATE|syscall.O_NONBLOCK, 0o666)
}

// summary prints how the night ended.
func (s *session) summary(out run.Outcome) {
	fmt.Fprintf(s.world.Stderr, "%d frames, %d of them unreadable, %.1f seconds, result: %s\n", out.Frames, out.Bad, out.Time, cmp.Or(out.Result, "none"))
}
