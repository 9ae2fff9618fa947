package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"halocue/config"
	"halocue/internal/run"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/internal/setup"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
	"halocue/vision"
)

// tool is a camera and a voice, for the commands that measure one thing.
type tool struct {
	vision.Source
	*app
	c              config.Config
	out            *aloud.Out       // nil where files are measured
	reason         *vision.Reason   // why frames could not be read
	words, english parts.Say        // sentences in the settings' language, and in English for programs
	turn           func(by float64) // turns the virtual camera from how it stood at first, radians; nil with a real one
}

// newTool returns a tool without camera and voice, for files.
func (a *app) newTool(c config.Config) (*tool, error) {
	words, english, err := parts.Sentences(c.Voice)
	return &tool{app: a, c: c, words: words, english: english, reason: &vision.Reason{}}, err
}

// openTool opens camera and voice. With the virtual telescope it first applies change to
// the simulated night, and then makes the settings agree with that.
func (a *app) openTool(ctx context.Context, c config.Config, g clockFlags, change func(telescope.Night) telescope.Night) (*tool, error) {
	frames, err := g.frames()
	if err != nil {
		return nil, err
	}
	seed, isVirtual, err := virtual.Seed(c.Camera.Source)
	if err != nil {
		return nil, err
	}
	t, err := a.newTool(c)
	if err != nil {
		return nil, err
	}
	if isVirtual {
		n := change(telescope.Demo(seed))
		t.c = virtual.Settings(c, n)
		camera := virtual.NewCamera(n, g.fps, frames)
		t.Source, t.turn = camera, camera.Turn
	} else {
		events := make(chan run.DeviceEvent, 1)
		if t.Source, err = parts.OpenSource(ctx, &a.World, c.Camera, parts.Camera{FPS: g.fps, Frames: frames, Once: true}, events); err != nil {
			return nil, err
		}
		select {
		case e := <-events:
			fmt.Fprintf(a.Stderr, "halocue: %s\n", e.Detail)
		default:
		}
		t.reason.Source, t.Source = t.Source, t.reason
	}
	if t.out, err = aloud.Open(ctx, t.c, t.c.Voice.Language); err != nil {
		fmt.Fprintf(a.Stderr, "halocue: %v; it goes on without sound\n", err)
	}
	return t, nil
}

// say prints an instruction on standard error and speaks it to its end. Without a camera,
// when files are measured, it does nothing: nobody is there to follow it.
func (t *tool) say(ctx context.Context, line string) error {
	if t.out == nil {
		return nil
	}
	return t.show(ctx, t.Stderr, line)
}

// result speaks a line and prints it on standard output, except where that carries JSON.
func (t *tool) result(ctx context.Context, json bool, line string) error {
	if json {
		return t.show(ctx, io.Discard, line)
	}
	return t.show(ctx, t.Stdout, line)
}

// show speaks a line and prints it on w, except with --quiet, where what is heard is not
// printed.
func (t *tool) show(ctx context.Context, w io.Writer, line string) error {
	if t.out == nil {
		_, err := fmt.Fprintln(w, line)
		return err
	}
	if _, err := fmt.Fprintln(t.out.Shown(&t.World, w), line); err != nil {
		return err
	}
	return t.out.Say(ctx, line)
}

// failed says aloud why a measurement failed, and returns that error; if no frame could be
// read, the error is why not.
func (t *tool) failed(ctx context.Context, frames int, err error) error {
	if err == nil || t.out == nil {
		return err
	}
	if unread := t.unread(frames); unread != nil {
		err = unread
	}
	if said := t.show(ctx, io.Discard, t.words("wobble.failed")); said != nil {
		return errors.Join(err, said)
	}
	return errors.Join(err, t.out.SayEnglish(ctx, inner(err)+"."))
}

// unread is the error of a camera of which no frame could be read, else nil.
func (t *tool) unread(frames int) error {
	if frames > 0 || t.reason.First() == nil {
		return nil
	}
	return fmt.Errorf("no frame was read: %w", t.reason.First())
}

func (t *tool) close() {
	if t.out != nil {
		t.Source.Close()
		t.out.Close()
	}
}

// inner is the last cause of an error, which says what to do.
func inner(err error) string {
	for {
		next := errors.Unwrap(err)
		if next == nil {
			return err.Error()
		}
		err = next
	}
}

// keep applies change to the settings and writes them into the file that was read, or the
// usual one. With write it does so without asking; else, with ask, after asking.
func (t *tool) keep(ctx context.Context, write, ask bool, change func(*config.Config)) error {
	_, isVirtual, err := virtual.Seed(t.c.Camera.Source)
	if err != nil || !write && (!ask || isVirtual || t.c.Camera.Source == "-") {
		return err
	}
	say := func(line string) error { return t.show(ctx, t.Stderr, line) }
	var talk setup.Talk
	if !write {
		talk = setup.Asking{In: t.Stdin, Speak: say}
	}
	path, err := setup.Keep(ctx, t.Env, t.c.File, t.c.Voice.Language, talk, change)
	if err != nil || path == "" {
		return err
	}
	return say(t.words("scale.written", path))
}
