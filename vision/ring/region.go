package ring

import (
	"math"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// region is the region of interest: the part of a frame about a ring, reduced by
// averaging squares of bin pixels.
type region struct {
	frame.Frame
	x0, y0 int // the frame pixel in its first square
	bin    int
	sky    plane3 // in its own pixels
	border []float64
}

// regionReach is how far a region goes beyond the ring's centre, radii, and regionPx
// how many of its pixels the ring's radius has at least, where there are as many.
const (
	regionReach = 1.55
	regionPx    = 45
)

// cut makes c the part of f about a ring, in squares of least pixels at least.
func (c *region) cut(f *frame.Frame, ring Circle, sky plane3, least int) bool {
	c.bin = max(1, least, int(ring.Radius/regionPx))
	far := regionReach*ring.Radius + 3
	if !(math.Abs(ring.X) < 1e6 && math.Abs(ring.Y) < 1e6 && far < 1e6) {
		return false
	}
	c.x0, c.y0 = max(0, int(ring.X-far)), max(0, int(ring.Y-far))
	w := (min(f.Width, int(ring.X+far)+1) - c.x0) / c.bin
	h := (min(f.Height, int(ring.Y+far)+1) - c.y0) / c.bin
	if w < 8 || h < 8 {
		return false
	}
	c.Resize(w, h)
	c.White, c.Name = f.White, f.Name
	c.Average(f, c.x0, c.y0, c.bin)
	c.sky = plane3{
		x0: (sky.x0 - c.shift(c.x0)) / float64(c.bin), y0: (sky.y0 - c.shift(c.y0)) / float64(c.bin),
		v: sky.v, gx: sky.gx * float64(c.bin), gy: sky.gy * float64(c.bin),
	}
	return true
}

// shift returns where the middle of the region's first pixel lies in the frame; first is the
// frame pixel at its corner, in x or in y.
func (c *region) shift(first int) float64 { return float64(first) + float64(c.bin-1)/2 }

// toFrame and fromFrame turn circles from one into the other.
func (c *region) toFrame(a Circle) Circle {
	b := float64(c.bin)
	return Circle{X: a.X*b + c.shift(c.x0), Y: a.Y*b + c.shift(c.y0), Radius: a.Radius * b}
}

func (c *region) fromFrame(a Circle) Circle {
	b := float64(c.bin)
	return Circle{X: (a.X - c.shift(c.x0)) / b, Y: (a.Y - c.shift(c.y0)) / b, Radius: a.Radius / b}
}

// relevel sets the sky's level from the region outside 1.3 radii of ring (in the
// region's pixels), slopes kept.
func (c *region) relevel(ring Circle) {
	c.border = c.border[:0]
	lim := sq(1.3 * ring.Radius)
	step := max(1, c.Width*c.Height/8000)
	for k := 0; k < len(c.Pix); k += step {
		x, y := float64(k%c.Width), float64(k/c.Width)
		if sq(x-ring.X)+sq(y-ring.Y) > lim {
			c.border = append(c.border, float64(c.Pix[k])-c.sky.at(x, y))
		}
	}
	if len(c.border) > 30 {
		c.sky.v += robust.Median(c.border)
	}
}
