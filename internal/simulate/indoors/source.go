package indoors

import (
	"context"

	"halocue/internal/cue"
	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// Source is the view down the tube as a source of frames, with hands attached. It
// keeps the contract of vision.Source and never ends by itself.
type Source struct {
	pace  *telescope.Pace // guards all below
	tel   *Telescope
	hands *Hands
	frame frame.Frame
}

// NewSource sets up a source on a scene.
func NewSource(s Scene, o telescope.SourceOptions) *Source {
	tel := New(s)
	return &Source{pace: telescope.NewPace(o), tel: tel, hands: NewHands(tel)}
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

// Scene returns what the source was made of; the plug stands as it is now.
func (s *Source) Scene() (out Scene) {
	s.pace.Do(func() { out = s.tel.Scene() })
	return out
}
