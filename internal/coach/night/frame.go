package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// frameBox is where the star may be: half the frame's width and height less what
// the ring needs, mm, about the frame's centre.
type frameBox struct {
	centre r2.Vec // of the frame, relative to the target
	half   r2.Vec
}

func (b frameBox) holds(s r2.Vec) bool {
	d := r2.Sub(s, b.centre)
	return math.Abs(d.X) <= b.half.X && math.Abs(d.Y) <= b.half.Y
}

// room returns how far the star may go from s along the unit vector u.
func (b frameBox) room(s, u r2.Vec) float64 {
	d := r2.Sub(s, b.centre)
	axis := func(at, half, u float64) float64 {
		switch {
		case u > 1e-9:
			return (half - at) / u
		case u < -1e-9:
			return (half + at) / -u
		}
		return math.Inf(1)
	}
	return math.Max(0, math.Min(axis(d.X, b.half.X, u.X), axis(d.Y, b.half.Y, u.Y)))
}
