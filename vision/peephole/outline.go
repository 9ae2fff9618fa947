package peephole

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// rays is the number of directions in which an outline is looked for.
const rays = 180

// trace looks for an edge near the circle c along rays from its centre: sense +1 for a
// bright inside, -1 for a dark one, 0 for either. It returns the steepest places within
// reach of c, to a fraction of a pixel, without those that are hidden; hidden may be nil.
func (p *picture) trace(c Circle, sense, reach, least float64, hidden func(x, y float64) bool) (points []r2.Vec) {
	soft := 3 // px: the two sides that are compared
	if c.Radius < 15 {
		soft = 1
	}
	n := int(2*reach) + 2*soft + 1
	line := make([]float64, n)
	for i := range rays {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / rays)
		start := c.Radius - reach - float64(soft)
		ok := start > 0
		for k := range line {
			r := start + float64(k)
			var in bool
			if line[k], in = p.At(c.Centre.X+r*cos, c.Centre.Y+r*sin); !in {
				ok = false
				break
			}
		}
		if !ok {
			continue
		}
		step := make([]float64, 0, n)
		for k := soft; k+soft < n; k++ {
			d := line[k-1] - line[k+1]
			if soft == 3 {
				d = (d + line[k-2] + 0.5*line[k-3] - line[k+2] - 0.5*line[k+3]) / 2.5
			}
			switch sense {
			case 0:
				d = math.Abs(d)
			default:
				d *= sense
			}
			step = append(step, d)
		}
		best := 0
		for k, d := range step {
			if d > step[best] {
				best = k
			}
		}
		if best == 0 || best == len(step)-1 || step[best] < least {
			continue
		}
		a, b, e := step[best-1], step[best], step[best+1]
		r := start + float64(soft+best)
		if den := a - 2*b + e; den < 0 {
			r += 0.5 * (a - e) / den
		}
		q := r2.Vec{X: c.Centre.X + r*cos, Y: c.Centre.Y + r*sin}
		if hidden == nil || !hidden(q.X, q.Y) {
			points = append(points, q)
		}
	}
	return points
}

// settle fits the circle to its edge in rounds, each with a narrower search. ok is
// false where less than share of the outline was found on one circle.
func (p *picture) settle(c Circle, sense, reach, least, share float64, hidden func(x, y float64) bool) (Circle, bool) {
	for _, part := range [...]float64{1, 0.5, 0.35} {
		points := p.trace(c, sense, math.Max(reach*part, math.Min(3, 0.4*c.Radius)), least, hidden)
		next, ok := fit(points)
		if !ok || r2.Norm(r2.Sub(next.Centre, c.Centre)) > 2*reach || math.Abs(next.Radius-c.Radius) > 2*reach {
			return c, false
		}
		c = next
	}
	return c, c.Seen >= share
}

// fit fits a circle to points of which some are wrong, in rounds that allow a point less
// and less distance. Where a second edge runs into the first, the edge with more points
// wins, and not the mean of the two.
func fit(points []r2.Vec) (Circle, bool) {
	f, ok := fitted(points, func(spread, _ float64, round int) float64 {
		return 4.7 * math.Min(math.Max(spread, 0.15), 1.5/float64(1+round))
	})
	if !ok {
		return Circle{}, false
	}
	c := Circle{Centre: r2.Vec{X: f.Shape.X, Y: f.Shape.Y}, Radius: f.Shape.Radius}
	dist := make([]float64, len(points))
	for i, p := range points {
		dist[i] = r2.Norm(r2.Sub(p, c.Centre)) - c.Radius
	}
	c.Sigma, c.Seen = spreadOf(points, dist, f.W, c)
	return c, true
}

// fitted hands points to the robust fit of a circle. ok is false for too few points, or none on one circle.
func fitted(points []r2.Vec, limit func(spread, radius float64, round int) float64) (f robust.Fitter, ok bool) {
	if len(points) < 12 {
		return f, false
	}
	f.Limit = limit
	for _, p := range points {
		f.Add(p.X, p.Y)
	}
	c, ok := f.Fit(math.MaxInt)
	return f, ok && c.Radius > 0 && !math.IsNaN(c.Radius)
}

// spreadOf returns the one-sigma of the centre, from the scatter of the points that
// have weight and from their directions, and their share of the outline. Neighbours
// have the same error: four count as one (judgement).
func spreadOf(points []r2.Vec, dist, w []float64, c Circle) (sigma, seen float64) {
	var m [3]float64 // sums of cos^2, sin^2 and cos sin about their means
	var sw, s2, mx, my float64
	for i, p := range points {
		u := r2.Unit(r2.Sub(p, c.Centre))
		sw, s2 = sw+w[i], s2+w[i]*dist[i]*dist[i]
		mx, my = mx+w[i]*u.X, my+w[i]*u.Y
		if w[i] > 0.3 {
			seen += 1.0 / rays
		}
	}
	mx, my = mx/sw, my/sw
	for i, p := range points {
		u := r2.Sub(r2.Unit(r2.Sub(p, c.Centre)), r2.Vec{X: mx, Y: my})
		m[0], m[1], m[2] = m[0]+w[i]*u.X*u.X, m[1]+w[i]*u.Y*u.Y, m[2]+w[i]*u.X*u.Y
	}
	least := (m[0]+m[1])/2 - math.Hypot((m[0]-m[1])/2, m[2])
	return math.Sqrt(math.Max(s2/sw, 0.0025) / math.Max(least/4, 1e-3)), seen
}
