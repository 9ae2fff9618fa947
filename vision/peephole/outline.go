package peephole

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
)

// rays is how many directions an outline is looked for in.
const rays = 180

// trace looks for the edge of about the radius of c along rays from its centre:
// sense +1 for a bright inside, -1 for a dark one, 0 for either. It returns the
// steepest places within reach, found to a fraction of a pixel, but for those that
// are hidden; hidden may be nil.
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
			if line[k], in = p.at(c.Centre.X+r*cos, c.Centre.Y+r*sin); !in {
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

// settle fits the circle to its edge, with the search drawn in round by round.
// ok is false where less than share of the outline was found on one circle.
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

// fit fits a circle to points of which some are wrong: least squares with Tukey's
// biweight, with less and less patience: where a second edge runs into the first
// the one with more points wins, not their mean.
func fit(points []r2.Vec) (Circle, bool) {
	n := len(points)
	if n < 12 {
		return Circle{}, false
	}
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	var c Circle
	dist := make([]float64, n)
	size := make([]float64, n)
	for round := range 6 {
		var ok bool
		if c, ok = leastSquares(points, w); !ok {
			return c, false
		}
		for i, p := range points {
			dist[i] = r2.Norm(r2.Sub(p, c.Centre)) - c.Radius
			size[i] = math.Abs(dist[i])
		}
		slices.Sort(size)
		spread := 1.4826 * size[n/2]
		limit := 4.7 * math.Min(math.Max(spread, 0.15), 1.5/float64(1+round))
		for i, d := range dist {
			if u := d / limit; math.Abs(u) < 1 {
				w[i] = (1 - u*u) * (1 - u*u)
			} else {
				w[i] = 0
			}
		}
	}
	c.Sigma, c.Seen = spreadOf(points, dist, w, c)
	return c, true
}

// spreadOf returns the one-sigma of the centre, from the scatter of the points that
// count and from how they lie about it, and the share of the outline they make.
// Neighbours err alike: four count as one.
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

// leastSquares fits a circle: algebraically (Kasa), then by two rounds of Gauss
// and Newton on the distances.
func leastSquares(points []r2.Vec, w []float64) (c Circle, ok bool) {
	var mean r2.Vec
	sw := 0.0
	for i, p := range points {
		mean, sw = r2.Add(mean, r2.Scale(w[i], p)), sw+w[i]
	}
	if sw < 6 {
		return c, false
	}
	mean = r2.Scale(1/sw, mean)
	var h [3][4]float64
	add := func(a, b, d, r, w float64) {
		row := [3]float64{a, b, d}
		for i := range row {
			for j := range row {
				h[i][j] += w * row[i] * row[j]
			}
			h[i][3] += w * row[i] * r
		}
	}
	for i, p := range points {
		q := r2.Sub(p, mean)
		add(2*q.X, 2*q.Y, 1, r2.Norm2(q), w[i])
	}
	s, ok := solve(h)
	if !ok {
		return c, false
	}
	c.Centre = r2.Add(mean, r2.Vec{X: s[0], Y: s[1]})
	c.Radius = math.Sqrt(math.Max(s[2]+s[0]*s[0]+s[1]*s[1], 0))
	for range 2 {
		h = [3][4]float64{}
		for i, p := range points {
			d := r2.Sub(p, c.Centre)
			r := r2.Norm(d)
			if r == 0 {
				continue
			}
			add(d.X/r, d.Y/r, 1, r-c.Radius, w[i])
		}
		if s, ok = solve(h); !ok {
			return c, false
		}
		c.Centre, c.Radius = r2.Add(c.Centre, r2.Vec{X: s[0], Y: s[1]}), c.Radius+s[2]
	}
	return c, c.Radius > 0 && !math.IsNaN(c.Radius)
}

// solve solves three equations by elimination with pivots.
func solve(h [3][4]float64) (s [3]float64, ok bool) {
	for i := range 3 {
		p := i
		for k := i + 1; k < 3; k++ {
			if math.Abs(h[k][i]) > math.Abs(h[p][i]) {
				p = k
			}
		}
		if math.Abs(h[p][i]) < 1e-9 {
			return s, false
		}
		h[i], h[p] = h[p], h[i]
		for k := range 3 {
			if k != i {
				f := h[k][i] / h[i][i]
				for j := i; j < 4; j++ {
					h[k][j] -= f * h[i][j]
				}
			}
		}
	}
	for i := range 3 {
		s[i] = h[i][3] / h[i][i]
	}
	return s, true
}
