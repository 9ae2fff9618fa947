package vision_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"halocue/vision"
	"halocue/vision/frame"
)

// Large frames are lent: there is one, and it is not touched while the consumer has it.
func TestMailboxLends(t *testing.T) {
	s := newScript(times(5)...)
	s.frame = frame.New(4096, 1025)
	box := vision.Newest(s)
	defer box.Close()
	for n := 1; n <= 5; n++ {
		f, err := box.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Millisecond) // the source could go on
		if f != s.frame || f.Pix[0] != float32(n) || f.Pix[len(f.Pix)-1] != float32(n) {
			t.Fatalf("frame %d: %g to %g, the source's own: %v", n, f.Pix[0], f.Pix[len(f.Pix)-1], f == s.frame)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if _, err := box.Next(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("after the last: %v", err)
	}
	if err := box.Close(); err != nil {
		t.Error(err)
	}
}

// Small and large ones may follow each other.
func TestMailboxOfAllSizes(t *testing.T) {
	s := newScript(times(40)...)
	for i := range s.steps {
		s.steps[i] = func() error {
			if s.frame = frame.New(8, 6); i%3 == 0 {
				s.frame = frame.New(4096, 1025)
			}
			return nil
		}
	}
	box := vision.Newest(s)
	defer box.Close()
	for last := 0.0; last < 40; {
		f, err := box.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if v := float64(f.Pix[0]); v <= last || f.Pix[len(f.Pix)-1] != f.Pix[0] {
			t.Fatalf("%g after %g", v, last)
		} else {
			last = v
		}
	}
}
