package ring

import "math"

// circleFitter fits circles to edge points of which some are wrong. It owns its
// memory.
type circleFitter struct {
	x, y   []float64
	w      []float64 // what each point counts, 0 to 1
	dist   []float64
	tmp    []float64
	spread float64 // robust RMS distance of the points from the circle
	grain  float64 // and what of it differs from place to place: noise, not shape
	many   float64 // how many independent points these are
	loose  float64 // what an arc does to the centre, 1 for a whole circle
	used   float64 // mean of w
}

func (f *circleFitter) reset()           { f.x, f.y = f.x[:0], f.y[:0] }
func (f *circleFitter) add(x, y float64) { f.x, f.y = append(f.x, x), append(f.y, y) }

// taubin fits a circle algebraically with Taubin's normalisation (IEEE Trans.
// PAMI 13, 1115, 1991), by Newton's method on the characteristic polynomial as
// in Chernov, Circular and Linear Regression (2010), section 5.10 (from memory).
// ok is false for fewer than 3 points or points on a line.
func taubin(px, py, w []float64) (c Circle, ok bool) {
	var mx, my, sw float64
	for i := range px {
		sw += w[i]
		mx += w[i] * px[i]
		my += w[i] * py[i]
	}
	if len(px) < 3 || sw <= 0 {
		return c, false
	}
	mx, my = mx/sw, my/sw
	var xx, yy, xy, xz, yz, zz float64
	for i := range px {
		x, y := px[i]-mx, py[i]-my
		z := x*x + y*y
		xx += w[i] * x * x
		yy += w[i] * y * y
		xy += w[i] * x * y
		xz += w[i] * x * z
		yz += w[i] * y * z
		zz += w[i] * z * z
	}
	xx, yy, xy, xz, yz, zz = xx/sw, yy/sw, xy/sw, xz/sw, yz/sw, zz/sw
	mz := xx + yy
	cov := xx*yy - xy*xy
	varz := zz - mz*mz
	a3 := 4 * mz
	a2 := -3*mz*mz - zz
	a1 := varz*mz + 4*cov*mz - xz*xz - yz*yz
	a0 := xz*(xz*yy-yz*xy) + yz*(yz*xx-xz*xy) - varz*cov
	x, y := 0.0, a0
	for range 99 {
		d := a1 + x*(2*a2+x*3*a3)
		if d == 0 {
			break
		}
		n := x - y/d
		if n == x || math.IsNaN(n) || math.IsInf(n, 0) {
			break
		}
		v := a0 + n*(a1+n*(a2+n*a3))
		if math.Abs(v) >= math.Abs(y) {
			break
		}
		x, y = n, v
	}
	det := x*x - x*mz + cov
	if math.Abs(det) < 1e-12*mz*mz || mz == 0 {
		return c, false
	}
	cx := (xz*(yy-x) - yz*xy) / det / 2
	cy := (yz*(xx-x) - xz*xy) / det / 2
	return Circle{cx + mx, cy + my, math.Sqrt(cx*cx + cy*cy + mz)}, true
}

// geometric refines c to the least sum of weighted squared distances, by Gauss
// and Newton's method.
func geometric(c Circle, px, py, w []float64, rounds int) Circle {
	for range rounds {
		var h [3][4]float64
		for i := range px {
			dx, dy := px[i]-c.X, py[i]-c.Y
			d := math.Sqrt(dx*dx + dy*dy)
			if d == 0 || w[i] == 0 {
				continue
			}
			u, v, r := dx/d, dy/d, d-c.Radius
			wu, wv := w[i]*u, w[i]*v
			h[0][0] += wu * u
			h[0][1] += wu * v
			h[0][2] += wu
			h[0][3] += wu * r
			h[1][1] += wv * v
			h[1][2] += wv
			h[1][3] += wv * r
			h[2][2] += w[i]
			h[2][3] += w[i] * r
		}
		h[1][0], h[2][0], h[2][1] = h[0][1], h[0][2], h[1][2]
		s, ok := solve3(h)
		if !ok {
			return c
		}
		c.X += s[0]
		c.Y += s[1]
		c.Radius += s[2]
		if math.Abs(s[0])+math.Abs(s[1])+math.Abs(s[2]) < 1e-9*c.Radius {
			break
		}
	}
	return c
}

// solve3 solves a 3 x 3 system in augmented form by elimination.
func solve3(h [3][4]float64) (s [3]float64, ok bool) {
	for i := range 3 {
		p := i
		for k := i + 1; k < 3; k++ {
			if math.Abs(h[k][i]) > math.Abs(h[p][i]) {
				p = k
			}
		}
		if math.Abs(h[p][i]) < 1e-12 {
			return s, false
		}
		h[i], h[p] = h[p], h[i]
		for k := range 3 {
			if k == i {
				continue
			}
			f := h[k][i] / h[i][i]
			for c := i; c < 4; c++ {
				h[k][c] -= f * h[i][c]
			}
		}
	}
	for i := range 3 {
		s[i] = h[i][3] / h[i][i]
	}
	return s, true
}

// robust fits a circle: Taubin's, then geometric rounds in which points off by
// more than a few robust sigma lose their weight (Tukey's biweight, tuning 4.7).
func (f *circleFitter) robust() (c Circle, ok bool) {
	n := len(f.x)
	f.w, f.dist = f.w[:0], f.dist[:0]
	for range n {
		f.w, f.dist = append(f.w, 1), append(f.dist, 0)
	}
	c, ok = taubin(f.x, f.y, f.w)
	if !ok {
		return c, false
	}
	for round := range 6 {
		for i := range n {
			f.dist[i] = math.Abs(math.Sqrt(sq(f.x[i]-c.X)+sq(f.y[i]-c.Y)) - c.Radius)
		}
		f.spread = 1.4826 * middle(f.dist)
		lim := 4.7 * max(f.spread, 0.02*c.Radius/float64(1+round), 0.02)
		f.used = 0
		for i := range n {
			d := math.Abs(math.Sqrt(sq(f.x[i]-c.X)+sq(f.y[i]-c.Y)) - c.Radius)
			u := sq(d / lim)
			f.w[i] = 0
			if u < 1 {
				f.w[i] = sq(1 - u)
			}
			f.used += f.w[i] / float64(n)
		}
		if !(f.used >= 0.2) {
			return c, false
		}
		if t, ok := taubin(f.x, f.y, f.w); ok && round == 0 {
			c = t
		}
		c = geometric(c, f.x, f.y, f.w, 2)
	}
	f.learnGrain(c)
	return c, c.Radius > 0
}

// learnGrain finds the noise of points that stand in order round c, some px
// apart: neighbours share pixels, but what moves them together over tens of
// degrees is the edge's own shape, which does not move its centre.
func (f *circleFitter) learnGrain(c Circle) {
	const apart = 3 // px, from which points know nothing of each other
	n := len(f.x)
	round := 2 * math.Pi * c.Radius
	lag := max(3, int(math.Ceil(apart*rays/round)))
	f.many = min(float64(n)/rayShare, round/apart) * f.used
	f.loose = f.looseness(c)
	if n < 2*lag {
		f.grain = f.spread
		return
	}
	for i := range n {
		f.dist[i] = math.Sqrt(sq(f.x[i]-c.X)+sq(f.y[i]-c.Y)) - c.Radius
	}
	f.tmp = f.tmp[:0]
	for i := range n {
		f.tmp = append(f.tmp, math.Abs(f.dist[i]-f.dist[(i+lag)%n]))
	}
	f.grain = 1.4826 * middle(f.tmp) / math.Sqrt2
}

// noise returns what the grain does to each coordinate of the centre, px: all
// round, grain sqrt(2/n) (Chan, 1965, from memory).
func (f *circleFitter) noise() float64 {
	return f.grain * f.loose * math.Sqrt(2/math.Max(f.many, 1))
}

// looseness returns by how much the centre of c is less certain than if the same
// points stood all round it; the worse of two directions, from the normal
// equations of the fit.
func (f *circleFitter) looseness(c Circle) float64 {
	var h [3][3]float64
	sum := 0.0
	for i := range f.x {
		d := math.Hypot(f.x[i]-c.X, f.y[i]-c.Y)
		if d == 0 {
			continue
		}
		e := [3]float64{(f.x[i] - c.X) / d, (f.y[i] - c.Y) / d, 1}
		for a := range 3 {
			for b := range 3 {
				h[a][b] += f.w[i] * e[a] * e[b]
			}
		}
		sum += f.w[i]
	}
	worst := 0.0
	for axis := range 2 {
		var g [3][4]float64
		for a := range 3 {
			copy(g[a][:3], h[a][:])
		}
		g[axis][3] = 1
		v, ok := solve3(g)
		if !ok {
			return math.Inf(1)
		}
		worst = max(worst, v[axis]*sum/2)
	}
	return math.Sqrt(worst)
}
