package audio

import (
	"context"
	"time"
)

// Sink takes samples out of a mixer and puts them somewhere.
type Sink interface {
	// Advance moves the sound on by so many seconds (>= 0). A sink with a clock of
	// its own, as a sound device, does nothing here.
	Advance(seconds float64) error
	// Delay is how many seconds lie between pulling a sample and hearing it.
	Delay() float64
	// Close ends the sound. The mixer may be used again afterwards.
	Close() error
}

// stepper turns seconds into whole samples and carries the rest over, so that a
// night of tenths of a second does not drift.
type stepper struct{ carry float64 }

func (s *stepper) step(seconds float64) int {
	s.carry += seconds * Rate
	// The margin keeps ten steps of 0.1 s from being one sample short of a second.
	n := int(s.carry + 1e-6)
	s.carry -= float64(n)
	return n
}

// Null is a sink that is not heard. Words still take their time.
type Null struct {
	mixer *Mixer
	step  stepper
}

// NewNull returns a silent sink.
func NewNull(d *Mixer) *Null { return &Null{mixer: d} }

// Advance lets that much of the sound go by.
func (n *Null) Advance(seconds float64) error {
	n.mixer.Skip(n.step.step(seconds))
	return nil
}

// Delay is zero.
func (n *Null) Delay() float64 { return 0 }

// Close does nothing.
func (n *Null) Close() error { return nil }

// Pump advances a sink by the wall clock until the context ends: it makes a File
// or a Null keep real time. It returns the sink's first error, or nil at the end.
func Pump(ctx context.Context, s Sink) error {
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for last := time.Now(); ; {
		select {
		case <-ctx.Done():
			return nil
		case now := <-tick.C:
			if err := s.Advance(now.Sub(last).Seconds()); err != nil {
				return err
			}
			last = now
		}
	}
}
