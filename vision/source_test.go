package vision_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"testing"
	"time"

	"halocue/internal/simulate/indoors"
	"halocue/internal/simulate/telescope"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/visiontest"
)

// script is a source that does what its steps say, then waits for its end.
type script struct {
	steps []func() error // nil error: a frame
	n     int
	frame *frame.Frame
	quit  chan struct{}
	once  sync.Once
}

func newScript(steps ...func() error) *script {
	return &script{steps: steps, frame: frame.New(8, 6), quit: make(chan struct{})}
}

func ok() error                   { return nil }
func fail(err error) func() error { return func() error { return err } }
func times(n int) (s []func() error) {
	for range n {
		s = append(s, ok)
	}
	return s
}

func (s *script) Next(ctx context.Context) (*frame.Frame, error) {
	select {
	case <-s.quit:
		return nil, vision.ErrClosed
	default:
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if s.n == len(s.steps) {
		select {
		case <-s.quit:
			return nil, vision.ErrClosed
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	err := s.steps[s.n]()
	if err == nil || errors.Is(err, vision.ErrBadFrame) {
		s.n++
	}
	if err != nil {
		return nil, err
	}
	s.frame.Seq, s.frame.T = uint64(s.n-1), time.Duration(s.n-1)*time.Second
	for i := range s.frame.Pix {
		s.frame.Pix[i] = float32(s.n)
	}
	return s.frame, nil
}

func (s *script) Close() error {
	s.once.Do(func() { close(s.quit) })
	return nil
}

func lostAfter(n int) *script { return newScript(append(times(n), fail(vision.ErrLost))...) }

func TestSourcesKeepTheContract(t *testing.T) {
	frames := func(steps ...func() error) func(*testing.T) vision.Source {
		return func(*testing.T) vision.Source { return newScript(steps...) }
	}
	newest := func(open func(*testing.T) vision.Source) func(*testing.T) vision.Source {
		return func(t *testing.T) vision.Source { return vision.Newest(open(t)) }
	}
	drawn := func(wall bool) func(*testing.T) vision.Source {
		return func(*testing.T) vision.Source {
			return telescope.NewSource(telescope.Demo(3), telescope.SourceOptions{FPS: 20, Wall: wall, Closed: vision.ErrClosed})
		}
	}
	tube := func(wall bool) func(*testing.T) vision.Source {
		return func(*testing.T) vision.Source {
			s := indoors.Demo(3)
			s.Camera.Width, s.Camera.Height = 160, 120
			return indoors.NewSource(s, telescope.SourceOptions{FPS: 20, Wall: wall, Closed: vision.ErrClosed})
		}
	}
	again := func(*testing.T) vision.Source {
		return vision.Reopen(lostAfter(2), func(context.Context) (vision.Source, error) { return lostAfter(2), nil },
			vision.ReopenOptions{Wait: time.Millisecond})
	}
	never := func(*testing.T) vision.Source {
		return vision.Reopen(nil, func(context.Context) (vision.Source, error) { return nil, io.ErrNoProgress }, vision.ReopenOptions{Wait: time.Millisecond})
	}
	hangs := func(*testing.T) vision.Source {
		return vision.Reopen(nil, func(ctx context.Context) (vision.Source, error) { <-ctx.Done(); return nil, ctx.Err() }, vision.ReopenOptions{})
	}
	for kind, c := range map[string]visiontest.Case{
		"script":             {Open: frames(append(times(3), fail(io.EOF))...), Frames: 3, Ends: true, Silent: frames()},
		"newest":             {Open: newest(frames(times(1)...)), Frames: 1, Silent: newest(frames())},
		"newest of an end":   {Open: newest(frames(ok, fail(io.EOF))), Frames: 1, Ends: true},
		"virtual, frames":    {Open: drawn(false), Frames: 2, FPS: 20},
		"virtual, wall":      {Open: drawn(true), Frames: 2},
		"newest of virtual":  {Open: newest(drawn(true)), Frames: 2},
		"down the tube":      {Open: tube(false), Frames: 2, FPS: 20},
		"down it, wall":      {Open: tube(true), Frames: 2},
		"reopened":           {Open: again, Frames: 7, Silent: never},
		"reopened, hangs":    {Open: again, Frames: 3, Silent: hangs},
		"newest of reopened": {Open: newest(again), Frames: 2, Silent: newest(never)},
	} {
		t.Run(kind, func(t *testing.T) { visiontest.CheckSource(t, c) })
	}
}

func next(t *testing.T, s vision.Source) (*frame.Frame, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	return s.Next(ctx)
}

// While the consumer is busy with frame 1, frames 2 to 9 come; he gets 9.
func TestNewestFrameWins(t *testing.T) {
	fetched, all := make(chan struct{}), make(chan struct{})
	steps := times(9)
	steps[1] = func() error { <-fetched; return nil }
	steps = append(steps, func() error { close(all); return vision.ErrBadFrame })
	m := vision.Newest(newScript(steps...))
	defer m.Close()
	first, err := next(t, m)
	if err != nil || first.Seq != 0 {
		t.Fatal(first, err)
	}
	close(fetched)
	<-all
	if first.Pix[0] != 1 {
		t.Errorf("the first frame was changed while it was ours: %g", first.Pix[0])
	}
	f, err := next(t, m)
	if err != nil || f.Seq != 8 || f.Pix[0] != 9 || m.Dropped() != 7 {
		t.Errorf("frame %v, %v, dropped %d; want frame 8 and 7 dropped", f.Seq, err, m.Dropped())
	}
	if _, err := next(t, m); !errors.Is(err, vision.ErrBadFrame) {
		t.Errorf("then %v, want the bad frame", err)
	}
}

// A frame that waits is handed over before the news that there are no more.
func TestNewestThenTheEnd(t *testing.T) {
	for _, end := range []error{io.EOF, fmt.Errorf("%w: pulled", vision.ErrLost)} {
		m := vision.Newest(newScript(ok, fail(end)))
		if _, err := next(t, m); err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if _, err := next(t, m); err != end {
				t.Errorf("%v, want %v", err, end)
			}
		}
		m.Close()
	}
}

func TestNewestAllocatesNothing(t *testing.T) {
	step := make(chan struct{})
	steps := times(300)
	for i := range steps {
		steps[i] = func() error { <-step; return nil }
	}
	m := vision.Newest(newScript(steps...))
	defer m.Close()
	defer close(step)
	ctx := t.Context()
	if n := testing.AllocsPerRun(200, func() {
		step <- struct{}{}
		if _, err := m.Next(ctx); err != nil {
			t.Fatal(err)
		}
	}); n > 0 {
		t.Errorf("%g allocations per frame", n)
	}
}

// The camera is pulled twice; the second time it takes three attempts.
func TestReopen(t *testing.T) {
	now := time.Unix(1000, 0)
	tries := 0
	attempts := []func() (vision.Source, error){
		func() (vision.Source, error) { return lostAfter(2), nil },
		func() (vision.Source, error) { return nil, errors.New("no such device") },
		func() (vision.Source, error) { return nil, errors.New("busy") },
		func() (vision.Source, error) {
			now = now.Add(time.Minute)
			return newScript(append(times(2), fail(vision.ErrBadFrame), fail(io.EOF))...), nil
		},
	}
	var events []string
	r := vision.Reopen(lostAfter(3), func(context.Context) (vision.Source, error) {
		tries++
		return attempts[tries-1]()
	}, vision.ReopenOptions{Wait: time.Microsecond, Now: func() time.Time { return now },
		Event: func(s vision.DeviceState, why error) { events = append(events, string(s)) }})
	defer r.Close()
	var got []string
	for {
		f, err := next(t, r)
		if err == io.EOF {
			break
		}
		if errors.Is(err, vision.ErrBadFrame) {
			got = append(got, "bad")
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, fmt.Sprint(f.Seq, "@", f.T))
	}
	// The script's clock is one frame a second; ours stood still at first, so
	// times wait for no one and never run back.
	want := "[0@0s 1@1s 2@2s 3@2s 4@3s 5@1m0s 6@1m1s bad]"
	if fmt.Sprint(got) != want {
		t.Errorf("got %v, want %v", got, want)
	}
	if s := fmt.Sprint(events); s != "[lost back lost back]" {
		t.Errorf("told %v", s)
	}
}

// A night may begin before the camera is plugged in.
func TestReopenWaitsForTheFirst(t *testing.T) {
	tries := 0
	var events []string
	r := vision.Reopen(nil, func(context.Context) (vision.Source, error) {
		if tries++; tries < 4 {
			return nil, errors.New("not there; plug it in")
		}
		return newScript(ok), nil
	}, vision.ReopenOptions{Wait: time.Microsecond, Event: func(s vision.DeviceState, why error) { events = append(events, fmt.Sprint(s, " ", why)) }})
	defer r.Close()
	if f, err := next(t, r); err != nil || f.Seq != 0 || f.T != 0 {
		t.Fatal(f, err)
	}
	if s := fmt.Sprint(events); s != "[missing not there; plug it in back <nil>]" {
		t.Errorf("told %v", s)
	}
}
