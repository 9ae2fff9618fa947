// Package visiontest proves that a frame source keeps vision.Source's contract.
package visiontest

import (
	"context"
	"errors"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"halocue/vision"
	"halocue/vision/frame"
)

// Case is one kind of source.
type Case struct {
	// Open opens it, anew each time.
	Open func(t *testing.T) vision.Source

	// Frames is how many frames it gives at least, 2 or more.
	Frames int

	// Ends says that io.EOF comes after exactly Frames frames.
	Ends bool

	// FPS > 0 says that it runs by the frame clock of so many frames a second.
	FPS float64

	// Silent opens one of the kind that never gives a frame and never ends; nil
	// where the kind cannot be so.
	Silent func(t *testing.T) vision.Source
}

// patience is far beyond what any answer here should take, on a busy machine too.
const patience = 20 * time.Second

// CheckSource tests one kind of source.
func CheckSource(t *testing.T, c Case) {
	t.Run("frames", func(t *testing.T) { checkFrames(t, c) })
	t.Run("close", func(t *testing.T) { checkClose(t, c) })
	t.Run("context", func(t *testing.T) { checkContext(t, c) })
	if c.Silent != nil {
		t.Run("silent", func(t *testing.T) { checkSilent(t, c) })
	}
}

func checkFrames(t *testing.T, c Case) {
	defer leftBehind(t)()
	s := c.Open(t)
	defer s.Close()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	var lastT time.Duration
	for i := range c.Frames {
		f, err := s.Next(ctx)
		if err != nil {
			t.Fatalf("frame %d of %d: %v", i, c.Frames, err)
		}
		checkFrame(t, f)
		if f.Seq == 0 && f.T != 0 {
			t.Errorf("frame 0's time is %v, want 0", f.T)
		}
		if f.Seq != uint64(i) && c.FPS > 0 || f.Seq < uint64(i) {
			t.Errorf("frame %d has the number %d", i, f.Seq)
		}
		if f.T < lastT {
			t.Errorf("frame %d: time runs backwards, %v after %v", i, f.T, lastT)
		}
		lastT = f.T
		if want := float64(f.Seq) / c.FPS; c.FPS > 0 && math.Abs(f.T.Seconds()-want) > 1e-6 {
			t.Errorf("frame %d: time %v, want %g s", i, f.T, want)
		}
		for j := range f.Pix { // ours until the next call: the source must not mind
			f.Pix[j] = -1
		}
	}
	if !c.Ends {
		return
	}
	for range 3 {
		if _, err := s.Next(ctx); err != io.EOF {
			t.Fatalf("after the last frame: %v, want io.EOF each time", err)
		}
	}
}

func checkFrame(t *testing.T, f *frame.Frame) {
	t.Helper()
	if f.Width < 1 || f.Height < 1 || len(f.Pix) != f.Width*f.Height || f.White < 0 {
		t.Fatalf("%d x %d pixels in a slice of %d, white %g", f.Width, f.Height, len(f.Pix), f.White)
	}
	for i, v := range f.Pix {
		if !(v >= 0) || math.IsInf(float64(v), 0) {
			t.Fatalf("pixel %d is %g", i, v)
		}
	}
}

func checkClose(t *testing.T, c Case) {
	defer leftBehind(t)()
	s := c.Open(t)
	if _, err := next(t, s, t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
	for range 3 {
		if _, err := next(t, s, t.Context()); !errors.Is(err, vision.ErrClosed) {
			t.Errorf("after close: %v, want ErrClosed", err)
		}
	}
	if err := s.Close(); err != nil {
		t.Errorf("second close: %v", err)
	}
	never := c.Open(t) // opened, and nothing asked of it
	if err := never.Close(); err != nil {
		t.Errorf("close before the first frame: %v", err)
	}
}

// A call given up by its context costs no frame by the frame clock.
func checkContext(t *testing.T, c Case) {
	defer leftBehind(t)()
	s := c.Open(t)
	defer s.Close()
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := next(t, s, gone); !errors.Is(err, context.Canceled) {
		t.Errorf("with an ended context: %v, want it said", err)
	}
	f, err := next(t, s, t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if c.FPS > 0 && f.Seq != 0 {
		t.Errorf("the first frame delivered has the number %d", f.Seq)
	}
}

func checkSilent(t *testing.T, c Case) {
	defer leftBehind(t)()
	s := c.Silent(t)
	defer s.Close()
	short, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if _, err := next(t, s, short); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("while it is silent: %v, want the context's end", err)
	}
	asked := make(chan struct{})
	answer := make(chan error, 1)
	go func() {
		close(asked)
		_, err := s.Next(context.Background())
		answer <- err
	}()
	<-asked
	runtime.Gosched()
	if err := s.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
	select {
	case err := <-answer:
		if !errors.Is(err, vision.ErrClosed) {
			t.Errorf("the call that was waiting: %v, want ErrClosed", err)
		}
	case <-time.After(patience):
		t.Fatal("close does not wake a call that waits")
	}
}

// next calls Next and fails the test where no answer comes.
func next(t *testing.T, s vision.Source, ctx context.Context) (*frame.Frame, error) {
	t.Helper()
	type result struct {
		f   *frame.Frame
		err error
	}
	got := make(chan result, 1)
	go func() {
		f, err := s.Next(ctx)
		got <- result{f, err}
	}()
	select {
	case r := <-got:
		return r.f, r.err
	case <-time.After(patience):
		t.Fatal("no answer")
		return nil, nil
	}
}

// leftBehind returns a function that fails the test where goroutines of this
// module remain that were not there before. It waits for those about to end.
func leftBehind(t *testing.T) func() {
	before := ours()
	return func() {
		t.Helper()
		var after []string
		for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
			if after = ours(); len(after) <= len(before) {
				return
			}
		}
		t.Errorf("%d goroutines before, %d after:\n%s", len(before), len(after), strings.Join(after, "\n\n"))
	}
}

// ours lists the goroutines that run code of this module.
func ours() []string {
	buf := make([]byte, 1<<20)
	buf = buf[:runtime.Stack(buf, true)]
	var found []string
	for _, g := range strings.Split(string(buf), "\n\n") {
		if strings.Contains(g, "halocue/") && !strings.Contains(g, "testing.tRunner") && !strings.Contains(g, "testing.(*M)") {
			found = append(found, g)
		}
	}
	return found
}
