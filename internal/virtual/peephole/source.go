package peephole

import (
	"context"
	"math"
	"sync"
	"time"

	"halocue/internal/frame"
	"halocue/internal/virtual"
)

// Source is the view down the tube as a source of frames, with hands attached. It
// keeps the contract of vision.Source and never ends by itself.
type Source struct {
	o    virtual.SourceOptions
	stop chan struct{}
	once sync.Once

	mu    sync.Mutex // guards all below
	tel   *Telescope
	hands *Hands
	frame frame.Frame
	next  uint64
	start time.Time
}

// NewSource sets up a source on a scene.
func NewSource(s Scene, o virtual.SourceOptions) *Source {
	if o.FPS <= 0 {
		o.FPS = 10
	}
	if o.Closed == nil {
		o.Closed = virtual.ErrClosed
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.After == nil {
		o.After = time.After
	}
	tel := New(s)
	return &Source{o: o, stop: make(chan struct{}), tel: tel, hands: NewHands(tel)}
}

// Next returns the next frame; it belongs to the caller until the next call.
func (s *Source) Next(ctx context.Context) (*frame.Frame, error) {
	select {
	case <-s.stop:
		return nil, s.o.Closed
	default:
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if s.o.Wall {
		if err := s.pace(ctx); err != nil {
			return nil, err
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	t := float64(s.next) / s.o.FPS
	s.hands.Advance(t)
	s.tel.Render(&s.frame)
	s.frame.Seq, s.frame.T = s.next, time.Duration(t*float64(time.Second))
	s.next++
	return &s.frame, nil
}

// pace waits for the next frame's time and leaves out those that are over.
func (s *Source) pace(ctx context.Context) error {
	s.mu.Lock()
	now := s.o.Now()
	if s.start.IsZero() {
		s.start = now
	}
	past := now.Sub(s.start).Seconds() * s.o.FPS
	if due := uint64(math.Floor(past)); due > s.next {
		s.next = due
	}
	wait := time.Duration((float64(s.next) - past) / s.o.FPS * float64(time.Second))
	s.mu.Unlock()
	if wait <= 0 {
		return nil
	}
	select {
	case <-s.o.After(wait):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	case <-s.stop:
		return s.o.Closed
	}
}

// Close wakes a waiting Next and ends the source.
func (s *Source) Close() error {
	s.once.Do(func() { close(s.stop) })
	return nil
}

// Hear tells the hands what was said; times are seconds of Frame.T.
func (s *Source) Hear(in virtual.Instruction) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.hands.Hear(in)
}

// Truth returns what is true at the last frame.
func (s *Source) Truth() Truth {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.tel.Truth()
}

// Scene returns what the source was made of.
func (s *Source) Scene() Scene {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.tel.Scene()
}
