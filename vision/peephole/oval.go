package peephole

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// oval fits an outline that is not quite a circle: the secondary, cut at 45 degrees,
// looks round only from the place for which its offset was made. Where too little of it
// is seen, the circle is kept.
func (p *picture) oval(c Circle, sense, reach, least float64) Circle {
	points := p.trace(c, sense, reach, least, nil)
	n := len(points)
	if n < rays/2 {
		return c
	}
	x, y, w := make([]float64, n), make([]float64, n), make([]float64, n)
	for i, q := range points {
		x[i], y[i], w[i] = q.X, q.Y, 1
	}
	o := robust.Oval{Circle: robust.Circle{X: c.Centre.X, Y: c.Centre.Y, Radius: c.Radius}}
	const terms = 5 // centre, radius, and how oval it is
	for round := range 6 {
		o = robust.Geometric(o, x, y, w, 2, terms)
		limit := math.Max(1, 4/float64(1+round)) // px
		for i := range w {
			d, _, _ := o.Off(x[i], y[i])
			w[i] = 0
			if u := d / limit; math.Abs(u) < 1 {
				w[i] = (1 - u*u) * (1 - u*u)
			}
		}
	}
	to := r2.Vec{X: o.X, Y: o.Y}
	if !(r2.Norm(r2.Sub(to, c.Centre)) <= reach) || !(math.Abs(o.Radius-c.Radius) <= reach) {
		return c
	}
	c.Centre, c.Radius = to, o.Radius
	return c
}
