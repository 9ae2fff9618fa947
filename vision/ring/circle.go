package ring

import "math"

// point is an edge point, px.
type point struct{ x, y float64 }

// taubin fits a circle algebraically with Taubin's normalisation (IEEE Trans.
// PAMI 13, 1115, 1991), by Newton's method on the characteristic polynomial as
// in Chernov, Circular and Linear Regression (2010), section 5.10 (from memory).
// ok is false for fewer than 3 points or points on a line.
func taubin(pts []point, w []float64) (c Circle, ok bool) {
	var mx, my, sw float64
	for i, p := range pts {
		sw += w[i]
		mx += w[i] * p.x
		my += w[i] * p.y
	}
	if len(pts) < 3 || sw <= 0 {
		return c, false
	}
	mx, my = mx/sw, my/sw
	var xx, yy, xy, xz, yz, zz float64
	for i, p := range pts {
		x, y := p.x-mx, p.y-my
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
func geometric(c Circle, pts []point, w []float64) Circle {
	for range 50 {
		var h [3][4]float64
		for i, p := range pts {
			dx, dy := p.x-c.X, p.y-c.Y
			d := math.Hypot(dx, dy)
			if d == 0 {
				continue
			}
			j := [3]float64{dx / d, dy / d, 1}
			r := d - c.Radius
			for a := range 3 {
				for b := range 3 {
					h[a][b] += w[i] * j[a] * j[b]
				}
				h[a][3] += w[i] * j[a] * r
			}
		}
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

// robustCircle fits a circle to edge points of which some are wrong: Taubin's
// fit, then geometric rounds in which points off by more than a few robust
// sigma lose their weight (Tukey's biweight). spread is the robust RMS distance
// of the points from the circle, used the weight that is left, 0 to 1.
func robustCircle(pts []point, w []float64) (c Circle, spread, used float64, ok bool) {
	for i := range w {
		w[i] = 1
	}
	c, ok = taubin(pts, w)
	if !ok {
		return c, 0, 0, false
	}
	dist := make([]float64, len(pts))
	for round := range 8 {
		for i, p := range pts {
			dist[i] = math.Abs(math.Hypot(p.x-c.X, p.y-c.Y) - c.Radius)
		}
		spread = 1.4826 * median(append([]float64(nil), dist...))
		lim := 4.7 * max(spread, 0.02*c.Radius/float64(1+round), 0.02)
		used = 0
		for i := range w {
			u := dist[i] / lim
			w[i] = 0
			if u < 1 {
				w[i] = (1 - u*u) * (1 - u*u)
			}
			used += w[i] / float64(len(w))
		}
		if used < 0.2 {
			return c, spread, used, false
		}
		if round == 0 {
			if t, ok := taubin(pts, w); ok {
				c = t
			}
			continue
		}
		c = geometric(c, pts, w)
	}
	return c, spread, used, c.Radius > 0
}
