package faults

import (
	"context"
	"io"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/simulate/telescope"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

const soakFPS = 10.0

// scope is the simulated telescope with the faults and without pixels: a source of empty
// frames, and a meter that returns what a measurement would.
type scope struct {
	tel     *telescope.Telescope
	hands   *telescope.Hands
	faults  []fault
	chance  *rand.Rand
	seconds float64
	count   int
	frame   frame.Frame
	night   *session
	kicked  int  // faults before this one have kicked the tube
	lost    bool // the camera is unplugged, and that was said
}

func (s *scope) t() float64 { return float64(s.count) / soakFPS }

// tube is the camera on it, for as long as it is plugged in.
type tube struct {
	*scope
	closed bool
}

func (p *tube) Close() error { p.closed = true; return nil }

func (p *tube) Next(context.Context) (*frame.Frame, error) {
	s := p.scope
	if p.closed {
		return nil, vision.ErrClosed
	}
	if s.count >= int(s.seconds*soakFPS) {
		return nil, io.EOF
	}
	s.hands.Advance(s.t())
	s.kick()
	s.night.pass(s.t())
	gone := now(s.faults, "unplugged", s.t()) != nil
	if gone && !s.lost {
		s.lost = true
		return nil, vision.ErrLost
	}
	s.lost = gone
	s.count++
	if gone || now(s.faults, "damaged", s.t()) != nil && s.chance.Float64() < 0.9 {
		return nil, vision.ErrBadFrame
	}
	c := s.tel.Night().Camera
	s.frame.Width, s.frame.Height = c.Width, c.Height
	return &s.frame, nil
}

// kick pushes the tube where a knock is due.
func (s *scope) kick() {
	for ; s.kicked < len(s.faults) && s.faults[s.kicked].from <= s.t(); s.kicked++ {
		if f := s.faults[s.kicked]; f.kind == "knock" {
			a := s.chance.Float64() * 2 * math.Pi
			s.tel.Push(r2.Vec{X: 3 * f.size * math.Cos(a), Y: 3 * f.size * math.Sin(a)})
		}
	}
}

// Track is what a meter would measure in the last frame.
func (s *scope) Track(*frame.Frame) ring.Measurement {
	v, t := s.tel.Look(), s.t()
	m := ring.Measurement{
		Found: v.Found, Why: ring.Why(v.Why), Star: v.Star, Seen: v.Seen,
		Ring:   ring.Circle{X: v.Star.X, Y: v.Star.Y, Radius: v.Radius},
		Shadow: ring.Circle{X: v.Star.X + v.Offset.X, Y: v.Star.Y + v.Offset.Y, Radius: v.Shadow},
		Offset: v.Offset, Sigma: v.Sigma, Level: v.Level, Clipped: v.Clipped,
	}
	unseen := func(w ring.Why) { m = ring.Measurement{Why: w, Star: m.Star, Seen: w != ring.Dark} }
	dim := func(part float64) {
		m.Level *= part
		m.Sigma = r2.Scale(1/math.Sqrt(part), m.Sigma)
	}
	if f := now(s.faults, "dew", t); f != nil {
		part := (t - f.from) / (f.to - f.from) * f.size
		dim(1 - 0.8*part)
		m.Sigma = r2.Scale(1+3*part, m.Sigma)
	}
	if f := now(s.faults, "exposure", t); f != nil && m.Found {
		if m.Level *= math.Exp(4 * (f.size - 0.5)); m.Level > 1 {
			unseen(ring.Clipped)
		}
	}
	if f := now(s.faults, "crossing", t); f != nil && m.Found && s.chance.Float64() < 0.5 {
		m.Offset = r2.Add(m.Offset, r2.Vec{X: 20 * s.chance.NormFloat64(), Y: 20 * s.chance.NormFloat64()})
	}
	if f := now(s.faults, "second star", t); f != nil {
		unseen(ring.TwoStars)
	}
	switch d := now(s.faults, "cloud", t).depth(t); {
	case d > 0.95:
		unseen(ring.Dark)
	case d > 0.8:
		unseen(ring.Faint)
	case d > 0:
		dim(1 - d)
	}
	switch d := now(s.faults, "gone", t).depth(t); {
	case d > 0.3:
		unseen(ring.Dark)
	case d > 0.05:
		unseen(ring.CutOff)
	}
	if now(s.faults, "flood", t) != nil {
		unseen(ring.TooBright)
	}
	return m
}
