package telescope

import (
	"context"
	"errors"
	"time"

	"halocue/internal/cue"
	"halocue/vision/frame"
)

// ErrClosed says that the source was closed by its owner.
var ErrClosed = errors.New("the virtual telescope is closed")

// SourceOptions say how a Source keeps time.
type SourceOptions struct {
	FPS  float64 // frames a second, > 0; 0 is 10
	Wall bool    // by the wall clock: late frames are skipped; else frame after frame, without waiting

	// Closed is what Next answers after Close; nil is ErrClosed.
	Closed error
	// Now and After are the wall clock; nil is the real one.
	Now   func() time.Time
	After func(time.Duration) <-chan time.Time
}

// Source is the simulated telescope with a person's hands as a source of frames. It keeps
// the contract of vision.Source and never ends by itself.
type Source struct {
	pace  *Pace // guards all below
	tel   *Telescope
	hands *Hands
	frame frame.Frame
}

// NewSource sets up a source on a night.
func NewSource(n Night, o SourceOptions) *Source {
	tel := New(n)
	return &Source{pace: NewPace(o), tel: tel, hands: NewHands(tel)}
}

// Next returns the next frame; it belongs to the caller until the next call.
func (s *Source) Next(ctx context.Context) (*frame.Frame, error) {
	return s.pace.Next(ctx, &s.frame, s.hands.Advance, s.tel.Render)
}

// Close wakes a waiting Next and ends the source.
func (s *Source) Close() error { return s.pace.Close() }

// Hear tells the hands what was said; times are seconds of Frame.T.
func (s *Source) Hear(in cue.Instruction) { s.pace.Do(func() { s.hands.Hear(in) }) }

// Truth returns what is true at the last frame.
func (s *Source) Truth() (tr Truth) {
	s.pace.Do(func() { tr = s.tel.Truth() })
	return tr
}

// Night returns what the source was made of.
func (s *Source) Night() Night { return s.tel.night }
