package vision_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"halocue/vision"
)

// A device that opens each time and sends nothing good is asked ever more seldom; the
// first attempt after a good frame is made at once.
func TestReopenPausesWithoutGoodFrames(t *testing.T) {
	var opened []time.Time
	open := func(context.Context) (vision.Source, error) {
		opened = append(opened, time.Now())
		if len(opened) == 5 {
			return lostAfter(1), nil
		}
		return newScript(fail(vision.ErrBadFrame), fail(vision.ErrLost)), nil
	}
	r := vision.Reopen(lostAfter(1), open, vision.ReopenOptions{Wait: 500 * time.Millisecond, MaxWait: time.Second})
	defer r.Close()
	for len(opened) < 6 {
		next(t, r) //nolint:errcheck // good and bad ones
	}
	for i, least := range []time.Duration{500, 1000, 1000, 1000} {
		if took := opened[i+1].Sub(opened[i]); took < least*time.Millisecond {
			t.Errorf("attempt %d came after %v, want %d ms", i+1, took, least)
		}
	}
	if took := opened[5].Sub(opened[4]); took > 480*time.Millisecond {
		t.Errorf("after a good frame it took %v", took)
	}
}

// A device that gave good frames, and when it is opened again sends something else, is
// looked for again; one that never gave a good frame is not.
func TestReopenSomethingElse(t *testing.T) {
	other := errors.New("something else")
	n := 0
	open := func(context.Context) (vision.Source, error) {
		if n++; n < 3 {
			return newScript(fail(other)), nil
		}
		return newScript(ok), nil
	}
	r := vision.Reopen(lostAfter(1), open, vision.ReopenOptions{Wait: time.Millisecond})
	defer r.Close()
	for range 2 {
		if _, err := next(t, r); err != nil {
			t.Fatal(err)
		}
	}
	never := vision.Reopen(newScript(fail(other)), open, vision.ReopenOptions{Wait: time.Millisecond})
	defer never.Close()
	if _, err := next(t, never); !errors.Is(err, other) {
		t.Errorf("error %v", err)
	}
}
