package ring

import (
	"math"

	"halocue/vision/frame"
)

// spread is the shape of a patch of light: its centroid, and the radius of a disc with
// the same variance, along its longest direction and across. px.
type spread struct {
	x, y         float64
	along, cross float64
	dx, dy       float64 // unit vector of the longest way
}

// spreadOf returns the spread of squares of the binned frame, each counting alike.
func (t *binned) spreadOf(squares []int32) spread {
	var n, x, y, xx, yy, xy float64
	for _, k := range squares {
		i, j := float64(int(k)%t.w), float64(int(k)/t.w)
		n++
		x, y = x+i, y+j
		xx, yy, xy = xx+i*i, yy+j*j, xy+i*j
	}
	if n == 0 {
		return spread{}
	}
	x, y = x/n, y/n
	xx, yy, xy = xx/n-x*x, yy/n-y*y, xy/n-x*y
	mean, half := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	angle := math.Atan2(2*xy, xx-yy) / 2
	b := float64(t.bin)
	s := spread{x: (x+0.5)*b - 0.5, y: (y+0.5)*b - 0.5}
	s.along, s.cross = 2*b*math.Sqrt(mean+half), 2*b*math.Sqrt(max(0, mean-half))
	s.dy, s.dx = math.Sincos(angle)
	return s
}

// long reports whether a patch is longer than coma and air make a ring (judgement).
func (s *spread) long() bool { return s.along > 1.25*s.cross }

// lengthy returns why light is longer than wide: two rings that run into each other,
// each with its shadow, or one that is smeared.
func (m *Meter) lengthy(f *frame.Frame, s *detection, g patch) Why {
	p := g.spread
	// Of two rings r px in radius d px apart the variance is d^2/4 more along.
	half := math.Sqrt(p.along*p.along-p.cross*p.cross) / 2
	var at [2]outline
	for i, side := range []float64{-half, half} {
		ring := Circle{X: p.x + side*p.dx, Y: p.y + side*p.dy, Radius: p.cross}
		o, ok := m.trace.trace(f, &s.sky, ring, s.clip)
		if !ok || !o.hole || !o.round() {
			return Blurred
		}
		at[i] = o
	}
	a, b := at[0].outer, at[1].outer
	if math.Hypot(a.X-b.X, a.Y-b.Y) > 0.5*math.Min(a.Radius, b.Radius) {
		return TwoStars
	}
	return Blurred
}
