// Package robust finds medians, lines of least squares, and circles and ovals through
// edge points of which some are wrong.
package robust

import "math"

// Circle is a circle in frame pixels; (0, 0) is the centre of the first pixel.
type Circle struct {
	X, Y, Radius float64
}

// Fitter fits circles to edge points of which some are wrong. It owns its
// memory.
type Fitter struct {
	X, Y        []float64 // the points, px
	W           []float64 // what each point counts, 0 to 1
	dist        []float64
	tmp         []float64
	Shape       Oval
	Spread      float64 // robust RMS distance of the points from the shape
	Noise       float64 // one-sigma of the centre per axis, px: by all that deforms the edge,
	Light       float64 // and by the noise of its points alone
	ArcDilution float64 // factor on the centre's sigma for an arc, 1 for a whole circle
	Used        float64 // mean of W

	// Limit returns the distance, px, from which a point counts for nothing in a round of
	// 0 to 5, from the points' robust RMS distance and the radius. nil is 4.7 times the
	// distance (Tukey's biweight), and in the first rounds 0.09 radii.
	Limit func(spread, radius float64, round int) float64
}

func (f *Fitter) Reset()           { f.X, f.Y = f.X[:0], f.Y[:0] }
func (f *Fitter) Add(x, y float64) { f.X, f.Y = append(f.X, x), append(f.Y, y) }

// Taubin fits a circle algebraically with Taubin's normalisation (IEEE Trans.
// PAMI 13, 1115, 1991), by Newton's method on the characteristic polynomial as
// in Chernov, Circular and Linear Regression (2010), section 5.10 (from memory).
// ok is false for fewer than 3 points or points on a line.
func Taubin(px, py, w []float64) (c Circle, ok bool) {
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

// Oval is a closed curve that is nearly a circle: at the angle phi its distance from
// the centre is Radius + A cos 2 phi + B sin 2 phi, which to first order is an
// ellipse with the same centre.
type Oval struct {
	Circle
	A, B float64
}

// Off returns how far a point lies outside of the curve, and its direction.
func (c *Oval) Off(px, py float64) (d, cos, sin float64) {
	dx, dy := px-c.X, py-c.Y
	r := math.Sqrt(dx*dx + dy*dy)
	if r == 0 {
		return -c.Radius, 0, 0
	}
	cos, sin = dx/r, dy/r
	return r - c.Radius - c.A*(cos*cos-sin*sin) - c.B*2*cos*sin, cos, sin
}

// Geometric refines c to the least sum of weighted squared distances, by Gauss
// and Newton's method; terms is 3 for a circle, 5 for an oval.
func Geometric(c Oval, px, py, w []float64, rounds, terms int) Oval {
	for range rounds {
		var h Equations
		for i := range px {
			if w[i] == 0 {
				continue
			}
			d, u, v := c.Off(px[i], py[i])
			h.Add(terms, w[i], d, [MaxTerms]float64{u, v, 1, u*u - v*v, 2 * u * v})
		}
		s, ok := h.Solve(terms)
		if !ok {
			return c
		}
		c.X += s[0]
		c.Y += s[1]
		c.Radius += s[2]
		c.A += s[3]
		c.B += s[4]
		if math.Abs(s[0])+math.Abs(s[1])+math.Abs(s[2]) < 1e-9*c.Radius {
			break
		}
	}
	return c
}

// wholeEnough is the part of the way round from which points can separate an Oval from a
// circle with another centre (judgement).
const wholeEnough = 0.7

func (f *Fitter) limit(spread, radius float64, round int) float64 {
	if f.Limit != nil {
		return f.Limit(spread, radius, round)
	}
	return 4.7 * max(spread, 0.02*radius/float64(1+round), 0.02)
}

// Fit fits a circle; or an oval, where the points stand nearly all round it. It begins with
// Taubin's circle. In the rounds that follow, points that are off by more than a few robust
// sigma lose their weight (Tukey's biweight). of is how many points there would be all round.
func (f *Fitter) Fit(of int) (c Circle, ok bool) {
	n := len(f.X)
	f.W, f.dist = f.W[:0], f.dist[:0]
	for range n {
		f.W, f.dist = append(f.W, 1), append(f.dist, 0)
	}
	if c, ok = Taubin(f.X, f.Y, f.W); !ok {
		return c, false
	}
	terms := 3
	o := Oval{Circle: c}
	for round := range 6 {
		if round == 3 {
			f.Shape = o
			if two := f.power(2, 2); float64(n) > wholeEnough*float64(of) && two > sq(0.05*o.Radius) && two > 9*f.deformed() {
				terms = 5
			}
		}
		for i := range n {
			d, _, _ := o.Off(f.X[i], f.Y[i])
			f.dist[i] = math.Abs(d)
		}
		f.tmp = append(f.tmp[:0], f.dist...)
		f.Spread = Scatter(f.tmp)
		lim := f.limit(f.Spread, o.Radius, round)
		f.Used = 0
		for i, d := range f.dist {
			u := sq(d / lim)
			f.W[i] = 0
			if u < 1 {
				f.W[i] = sq(1 - u)
			}
			f.Used += f.W[i] / float64(n)
		}
		if !(f.Used >= 0.2) {
			return c, false
		}
		if t, ok := Taubin(f.X, f.Y, f.W); ok && round == 0 {
			o.Circle = t
		}
		o = Geometric(o, f.X, f.Y, f.W, 2, terms)
	}
	f.Shape = o
	f.learnNoise(of)
	return o.Circle, o.Radius > 0
}

// The orders of the edge's shape from which its uncertainty is estimated. A radius is the
// zeroth order, a centre the first, an ellipse the second: these are fitted, so their
// errors cannot be seen.
const (
	lowestOrder  = 3
	highestOrder = 6
)

// learnNoise estimates how far everything that deforms the edge (noise, air, dust, vanes) may
// have moved its centre: as far as it changes the orders that are not fitted. The
// centre's error in x is the coefficient of cos phi of the deformation, and white noise
// has the same coefficient in each order.
func (f *Fitter) learnNoise(of int) {
	f.ArcDilution = f.arcDilution()
	f.Noise = f.ArcDilution * math.Sqrt(f.deformed())
	f.Light = f.ArcDilution * f.pointNoise(of)
}

// pointNoise returns the error of each coordinate of the centre by independent noise of
// the points: s sqrt(2/n) for n points with radial noise s all round (Chan, 1965, from
// memory). The points are in order of angle. s is estimated from differences of points
// some px apart, which share no pixels; what moves neighbours together over tens of
// degrees is the edge's shape.
func (f *Fitter) pointNoise(of int) float64 {
	const (
		apart      = 3 // px
		neighbours = 2 // share pixels and are worth one
	)
	n := len(f.X)
	round := 2 * math.Pi * f.Shape.Radius
	lag := max(3, int(math.Ceil(apart*float64(of)/round)))
	many := max(1, min(float64(n)/neighbours, round/apart)*f.Used)
	if n < 2*lag {
		return f.Spread * math.Sqrt(2/many)
	}
	for i := range n {
		f.dist[i], _, _ = f.Shape.Off(f.X[i], f.Y[i])
	}
	f.tmp = f.tmp[:0]
	for i := range n {
		f.tmp = append(f.tmp, math.Abs(f.dist[i]-f.dist[(i+lag)%n]))
	}
	return Scatter(f.tmp) / math.Sqrt2 * math.Sqrt(2/many)
}

// power returns the mean square of the coefficients of cos m phi and sin m phi in the
// points' distances from the shape, px^2, over the orders m from low to high.
func (f *Fitter) power(low, high int) float64 {
	var power float64
	for m := low; m <= high; m++ {
		var sc, ss, sw float64
		for i := range f.X {
			d, cos, sin := f.Shape.Off(f.X[i], f.Y[i])
			c, s := multiple(cos, sin, m)
			sc, ss, sw = sc+f.W[i]*d*c, ss+f.W[i]*d*s, sw+f.W[i]
		}
		power += (sq(2*sc/sw) + sq(2*ss/sw)) / 2
	}
	return power / float64(high-low+1)
}

// deformed is the power of the orders that are learnt from.
func (f *Fitter) deformed() float64 { return f.power(lowestOrder, highestOrder) }

// multiple returns cosine and sine of m times an angle.
func multiple(cos, sin float64, m int) (c, s float64) {
	c, s = 1, 0
	for range m {
		c, s = c*cos-s*sin, s*cos+c*sin
	}
	return c, s
}

// arcDilution returns by how much the centre is less certain than if the same points
// stood all round it; the worse of two directions, from the normal Equations of the
// circle's fit.
func (f *Fitter) arcDilution() float64 {
	var h Equations
	sum := 0.0
	for i := range f.X {
		_, cos, sin := f.Shape.Off(f.X[i], f.Y[i])
		h.Add(3, f.W[i], 0, [MaxTerms]float64{cos, sin, 1})
		sum += f.W[i]
	}
	worst := 0.0
	for axis := range 2 {
		g := h
		g[axis][MaxTerms] = 1
		v, ok := g.Solve(3)
		if !ok {
			return math.Inf(1)
		}
		worst = max(worst, v[axis]*sum/2)
	}
	return math.Sqrt(worst)
}

func sq(x float64) float64 { return x * x }
