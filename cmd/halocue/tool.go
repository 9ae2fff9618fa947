package main

import (
	"context"
	"errors"
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/guide"
	"halocue/internal/virtual"
	"halocue/vision"
)

// tool is a camera and a voice, for the commands that measure one thing.
type tool struct {
	vision.Source
	c    config.Config
	k    checking
	turn func(by float64) // turns the virtual camera from how it stood at first, radians; nil with a real one
}

// openTool opens both. With the virtual telescope the settings are made to agree
// with it, after change was made to its night.
func (a *app) openTool(ctx context.Context, c config.Config, clock string, fps float64, change func(virtual.Night) virtual.Night) (*tool, error) {
	frames := clock == "frames"
	if !frames && clock != "wall" {
		return nil, usageError{fmt.Errorf("--clock %q: choose wall or frames", clock)}
	}
	if !(fps >= 0.1 && fps <= 1000) {
		return nil, usageError{fmt.Errorf("--fps %g: give 0.1 to 1000", fps)}
	}
	seed, isVirtual, err := virtualSeed(c.Camera.Source)
	if err != nil {
		return nil, err
	}
	t := &tool{c: c}
	if isVirtual {
		n := change(virtual.Demo(seed))
		t.c = virtualSettings(c, n)
		begin := func(n virtual.Night) vision.Source {
			src := vision.Source(virtual.NewSource(n, virtual.SourceOptions{FPS: fps, Wall: !frames, Closed: vision.ErrClosed}))
			if !frames {
				src = vision.Newest(src)
			}
			return src
		}
		t.Source = begin(n)
		t.turn = func(by float64) {
			t.Source.Close()
			turned := n
			turned.Camera.Rotation += by
			for _, v := range []*r2.Vec{&turned.Star, &turned.Axis, &turned.Mount.Drift} {
				*v = r2.Rotate(*v, by, r2.Vec{})
			}
			t.Source = begin(turned)
		}
	} else {
		events := make(chan guide.DeviceEvent, 64)
		if t.Source, err = a.openSource(ctx, c, guideFlags{fps: fps}, frames, events); err != nil {
			return nil, err
		}
		if !frames {
			t.Source = vision.Newest(t.Source)
		}
	}
	t.k = checking{app: a, c: t.c}
	if err := t.k.openSound(ctx); err != nil {
		fmt.Fprintf(a.stderr, "halocue: %v; it goes on without sound\n", err)
	}
	return t, nil
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

// say prints a line to a person on standard error, and speaks it to its end.
func (t *tool) say(ctx context.Context, line string) error {
	fmt.Fprintln(t.k.stderr, line)
	return t.k.say(ctx, line)
}

func (t *tool) close() {
	t.Source.Close()
	t.k.sink.Close()
}
