package telescope

import (
	"context"
	"errors"
	"testing"
	"time"

	"halocue/internal/cue"
)

// small is a night of small frames, quick to draw.
func small() Night {
	n := still()
	n.Camera.Width, n.Camera.Height = 320, 240
	n.Z, n.Star.X, n.Star.Y = 1.5, 0, 0
	return n
}

func TestSourceByFrames(t *testing.T) {
	s := NewSource(small(), SourceOptions{FPS: 5})
	defer s.Close()
	for i := range uint64(4) {
		f, err := s.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if want := time.Duration(i) * 200 * time.Millisecond; f.Seq != i || f.T != want || f.Width != 320 || f.White != 255 {
			t.Errorf("frame %d: seq %d, t %v, %d wide, white %g", i, f.Seq, f.T, f.Width, f.White)
		}
	}
	s.Hear(cue.Instruction{Action: "turn", Knob: "upper", Direction: "tighten", Turns: 0.1, End: 0.8})
	for range 20 {
		if _, err := s.Next(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
	near(t, "turns", s.Truth().Turns[0], 0.1, 1e-9)
}

func TestSourceByTheWallSkipsWhatIsOver(t *testing.T) {
	now := time.Unix(0, 0)
	var waits []time.Duration
	s := NewSource(small(), SourceOptions{FPS: 10, Wall: true,
		Now: func() time.Time { return now },
		After: func(d time.Duration) <-chan time.Time {
			waits = append(waits, d)
			now = now.Add(d)
			c := make(chan time.Time, 1)
			c <- now
			return c
		},
	})
	next := func() uint64 {
		f, err := s.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return f.Seq
	}
	if a, b := next(), next(); a != 0 || b != 1 || len(waits) != 1 || waits[0] != 100*time.Millisecond {
		t.Fatalf("frames %d, %d; waits %v", a, b, waits)
	}
	now = now.Add(time.Second) // a slow reader
	if got := next(); got != 11 {
		t.Errorf("frame %d after a second, want 11", got)
	}
}

func TestCloseWakesNext(t *testing.T) {
	gone := errors.New("gone")
	never := make(chan time.Time)
	waiting := make(chan struct{})
	still := func() time.Time { return time.Unix(0, 0) }
	s := NewSource(small(), SourceOptions{Wall: true, Closed: gone, Now: still, After: func(time.Duration) <-chan time.Time {
		close(waiting)
		return never
	}})
	if _, err := s.Next(context.Background()); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error)
	go func() { _, err := s.Next(context.Background()); ended <- err }()
	<-waiting
	s.Close()
	s.Close()
	if err := <-ended; !errors.Is(err, gone) {
		t.Errorf("woken with %v", err)
	}
	if _, err := s.Next(context.Background()); !errors.Is(err, gone) {
		t.Errorf("later: %v", err)
	}
}
