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

// box is where the star should stay, edge where it must.
func (c *Coach) box() frameBox { return c.inset(0.95) }

func (c *Coach) edge() frameBox { return c.inset(0.35) }

func (c *Coach) inset(rings float64) frameBox {
	px := c.o.Pixel
	in := rings*c.radius + 4*px
	half := r2.Vec{X: float64(c.width)/2*px - in, Y: float64(c.height)/2*px - in}
	half.X, half.Y = math.Max(half.X, 0.05), math.Max(half.Y, 0.05)
	return frameBox{centre: c.frame, half: half}
}

// largest is the largest ring, mm, that leaves the star room to move.
func (c *Coach) largest() float64 { return 0.36 * float64(c.height) * c.o.Pixel }

// fromPixels turns a place on the frame into mm relative to the target.
func (c *Coach) fromPixels(p r2.Vec) r2.Vec {
	middle := r2.Vec{X: float64(c.width-1) / 2, Y: float64(c.height-1) / 2}
	return r2.Add(c.frame, r2.Scale(c.o.Pixel, r2.Sub(p, middle)))
}

// toPixels is the other way round.
func (c *Coach) toPixels(s r2.Vec) r2.Vec {
	middle := r2.Vec{X: float64(c.width-1) / 2, Y: float64(c.height-1) / 2}
	return r2.Add(middle, r2.Scale(1/c.o.Pixel, r2.Sub(s, c.frame)))
}
