package telescope

import (
	"context"
	"math"
	"sync"
	"time"

	"halocue/vision/frame"
)

// Pace is the clock of a source of drawn frames: frame after frame without waiting, or by
// the wall clock, where late frames are left out. It keeps the contract of vision.Source
// for the source that uses it.
type Pace struct {
	o    SourceOptions
	stop chan struct{}
	once sync.Once

	mu    sync.Mutex // guards the rest, and what is drawn
	next  uint64
	start time.Time
}

// NewPace returns the pace that o asks for.
func NewPace(o SourceOptions) *Pace {
	if o.FPS <= 0 {
		o.FPS = 10
	}
	if o.Closed == nil {
		o.Closed = ErrClosed
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.After == nil {
		o.After = time.After
	}
	return &Pace{o: o, stop: make(chan struct{})}
}

// Next waits for the next frame's time, moves the hands on to it, and has f drawn.
func (p *Pace) Next(ctx context.Context, f *frame.Frame, advance func(t float64), draw func(*frame.Frame)) (*frame.Frame, error) {
	select {
	case <-p.stop:
		return nil, p.o.Closed
	default:
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if p.o.Wall {
		if err := p.wait(ctx); err != nil {
			return nil, err
		}
	}
	p.Do(func() {
		t := float64(p.next) / p.o.FPS
		advance(t)
		draw(f)
		f.Seq, f.T = p.next, time.Duration(t*float64(time.Second))
		p.next++
	})
	return f, nil
}

// wait waits for the next frame's time and leaves out those that are over.
func (p *Pace) wait(ctx context.Context) error {
	p.mu.Lock()
	now := p.o.Now()
	if p.start.IsZero() {
		p.start = now
	}
	past := now.Sub(p.start).Seconds() * p.o.FPS
	if due := uint64(math.Floor(past)); due > p.next {
		p.next = due
	}
	wait := time.Duration((float64(p.next) - past) / p.o.FPS * float64(time.Second))
	p.mu.Unlock()
	if wait <= 0 {
		return nil
	}
	select {
	case <-p.o.After(wait):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	case <-p.stop:
		return p.o.Closed
	}
}

// Do runs f while nothing is drawn.
func (p *Pace) Do(f func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	f()
}

// Close wakes a waiting Next and ends the source.
func (p *Pace) Close() error {
	p.once.Do(func() { close(p.stop) })
	return nil
}
