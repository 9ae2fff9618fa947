package run

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// paced delivers a dream's frames as a camera would, by the clock.
type paced struct {
	*dream
	gone int // the camera goes away at this frame; 0: never
}

func (p *paced) Next(ctx context.Context) (*frame.Frame, error) {
	select {
	case <-time.After(time.Duration(float64(time.Second) / p.fps)):
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if p.gone > 0 && p.count >= p.gone {
		return nil, vision.ErrLost
	}
	return p.dream.Next(ctx)
}

// Ctrl-C ends the night in the middle: the last words are said, the watcher ends.
func TestLiveInterrupted(t *testing.T) {
	d := newDream(3)
	var out bytes.Buffer
	p := parts(t, d, &out)
	p.Source = &paced{dream: d}
	ctx, cancel := context.WithTimeout(context.Background(), 1500*time.Millisecond)
	defer cancel()
	got, err := Live(ctx, p)
	if err != nil || got.Result != "" || got.Time > 1.5+lastWords+1 { // and a second of a busy machine
		t.Fatalf("outcome %+v, %v", got, err)
	}
	if !strings.Contains(out.String(), `"code":"ending"`) {
		t.Error("nothing was said at the end")
	}
}

// A camera that goes away for good is said, and the night ends without a claim.
func TestLiveCameraGoes(t *testing.T) {
	t.Parallel() // it waits by the clock
	d := newDream(3)
	var out bytes.Buffer
	p := parts(t, d, &out)
	p.Source = &paced{dream: d, gone: 15}
	got, err := Live(context.Background(), p)
	if err != nil || got.Result != "" {
		t.Fatalf("outcome %+v, %v", got, err)
	}
	if !strings.Contains(out.String(), `"code":"camera-lost"`) {
		t.Error("it was not said")
	}
}

// sluggish is a meter on a computer that takes far too long over a frame.
type sluggish struct {
	Meter
	took time.Duration
}

func (s sluggish) Track(f *frame.Frame) ring.Measurement {
	time.Sleep(s.took)
	return s.Meter.Track(f)
}

// A computer that cannot keep up says so, once, and goes on with the frames that it can
// look at; one that can says nothing.
func TestProveLiveKeepsUpOrSaysSo(t *testing.T) {
	for took, want := range map[time.Duration]int{250 * time.Millisecond: 1, 0: 0} {
		t.Run(took.String(), func(t *testing.T) {
			t.Parallel()
			d := newDream(3)
			var out bytes.Buffer
			p := parts(t, d, &out)
			p.Source = vision.Newest(&paced{dream: d})
			p.Meter = sluggish{p.Meter, took}
			ctx, cancel := context.WithTimeout(context.Background(), 28*time.Second)
			defer cancel()
			got, err := Live(ctx, p)
			if err != nil || got.Frames < 60 {
				t.Fatalf("outcome %+v, %v", got, err)
			}
			if n := strings.Count(out.String(), `"code":"overload"`); (n > 0) != (want > 0) { // on a busy machine perhaps once more
				t.Errorf("said %d times, want %d", n, want)
			}
			_ = p.Source.Close()
		})
	}
}
