package ring

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"halocue/vision/robust"
)

// sample is one data pixel of a fit: a camera pixel, or a square of them.
type sample struct {
	x, y    float64 // px
	v       float64 // ADU
	clipped bool    // some of it is cut
}

// noise is the variance of a sample: base + gain * (light over the sky).
type noise struct {
	base, gain float64
}

// fitter finds the model that fits the samples best.
type fitter struct {
	picture    *canvas // of the model
	sketch     *canvas // of its derivatives, which need not be as exact: they are the way, not the goal
	fresnel    float64 // N per px of radius
	vanes      int
	pixel      float64 // side of a sample, px
	data       []sample
	sector     [sectors + 1]int // where each sector of the ring begins in data
	noise      noise
	modelError float64 // of the model itself: RMS error over flux
	prior      params  // means
	tight      params  // 1 / sigma^2 of the prior; 0 is free

	centred float64 // 1 / sigma^2 of the silhouette's place, radii

	model, sigma  []float64
	weight, force []float64 // of the samples in the normal equations
	slopes        []float64 // by how much a sample rises with its light: below 1 where some of it is cut
	ceiling       float64   // at which light is cut, ADU
	scale         float64   // robust RMS of residual / sigma
	normal        *mat.SymDense
	free          []int
	by            [][]float64 // derivatives of the model by the free parameters
	before, part  []float64   // room for a model, and for other numbers of the samples
}

// predict draws q and sets the model's value of each sample.
func (f *fitter) predict(q *params) {
	c := f.picture
	c.draw(q, f.fresnel, f.vanes, f.pixel)
	var t tap
	for i := range f.data {
		d := &f.data[i]
		x, y := (d.x-q[pX])/q[pR], (d.y-q[pY])/q[pR]
		m := q[pSky] + q[pSX]*x + q[pSY]*y
		if c.tapAt(x, y, &t) {
			m += q[pFlux] * q.evenness(x, y) * c.value(c.blurred, &t)
		}
		f.model[i] = m
	}
}

// cost returns the robust cost of q, which must be predicted.
func (f *fitter) cost(q *params) float64 {
	cost := 0.0
	for i := range f.data {
		cost += f.rho(f.residual(i, q))
	}
	for k := range nParam {
		d := q[k] - f.prior[k]
		cost += f.tight[k] * d * d
	}
	s := q.shape(f.fresnel, 0)
	return cost + f.centred*(s.sx*s.sx+s.sy*s.sy)
}

// residual returns (data - model) / sigma of sample i.
func (f *fitter) residual(i int, q *params) float64 {
	d := &f.data[i]
	m := f.model[i]
	s := math.Sqrt(f.noise.base + sq(f.modelError*q[pFlux]) + f.noise.gain*max(m-q[pSky], 0))
	f.sigma[i] = s
	f.slopes[i] = 1
	if px := s * f.pixel; m+4*px > f.ceiling {
		// The expected value of a pixel that is cut at the ceiling c: E[min(X, c)], X normal.
		u := (f.ceiling - m) / px
		below := 0.5 * math.Erfc(-u/math.Sqrt2)
		m = m*below + f.ceiling*(1-below) - px*math.Exp(-u*u/2)/math.Sqrt(2*math.Pi)
		f.slopes[i] = below
	}
	return (d.v - m) / s
}

// rho is Geman and McClure's loss, quadratic for small residuals.
func (f *fitter) rho(r float64) float64 {
	c := 5 * f.scale
	u := r * r / (c * c)
	return r * r / (1 + u)
}

func (f *fitter) weightOf(r float64) float64 {
	c := 5 * f.scale
	u := r * r / (c * c)
	return 1 / ((1 + u) * (1 + u))
}

// distance returns the median distance of the lit samples from the model, over the
// ring's light.
func (f *fitter) distance(q *params) float64 {
	var lit []float64
	for i := range f.data {
		if m := f.model[i] - q[pSky]; !f.data[i].clipped && m > 0.2*q[pFlux] {
			lit = append(lit, math.Abs(f.data[i].v-f.model[i]))
		}
	}
	return robust.Median(lit) / q[pFlux]
}

// rescale sets the robust scale from the residuals now.
func (f *fitter) rescale(q *params) {
	rs := make([]float64, 0, len(f.data))
	for i := range f.data {
		if f.data[i].clipped {
			continue
		}
		rs = append(rs, math.Abs(f.residual(i, q)))
	}
	f.scale = max(1, robust.Scatter(rs))
	// The sky is most of the samples and fits at once: the ring sets the scale.
	var lit []float64
	for i := range f.data {
		if !f.data[i].clipped && f.model[i]-q[pSky] > 0.3*q[pFlux] {
			lit = append(lit, math.Abs(f.residual(i, q)))
		}
	}
	if len(lit) > 20 {
		f.scale = max(f.scale, robust.Scatter(lit))
	}
}

// descend refines q, which is predicted and derived, by Levenberg and Marquardt's method, with
// so many pictures at the most. Each step, also one that fails, corrects the derivatives by
// what it did to the model (Broyden 1965; from memory), because to make them anew costs most.
// done reports whether what is left is a small step.
func (f *fitter) descend(q *params, pictures int) (done bool) {
	if f.scale == 0 {
		f.scale = 1e6
		f.cost(q)
	}
	f.rescale(q)
	f.relax(q)
	cost := f.cost(q)
	lambda := 1e-3
	for range pictures {
		g := f.accumulate(q)
		t := *q
		gain, ok := f.step(&t, g, lambda)
		if ok && gain < sq(smallStep) {
			return true
		}
		if !ok {
			lambda *= 10
			continue
		}
		copy(f.before, f.model)
		f.predict(&t)
		f.secant(q, &t)
		if f.cost(&t) < cost {
			*q = t
			lambda = max(lambda/10, 1e-9)
			f.rescale(q)
			f.relax(q)
			cost = f.cost(q)
		} else {
			lambda *= 10
			copy(f.model, f.before)
		}
	}
	return false
}

// smallStep is the step, in one-sigmas of all parameters together, that is not worth a picture.
const smallStep = 0.1

// derive sets the derivatives of the samples' model at q by the parameters that are free from now on.
func (f *fitter) derive(q *params, free []int) {
	f.free = free
	c := f.sketch
	c.draw(q, f.fresnel, f.vanes, f.pixel)
	c.derive(q, f.fresnel, f.vanes, f.free)
	for len(f.by) < len(f.free) {
		f.by = append(f.by, make([]float64, len(f.data)))
	}
	var t tap
	for i := range f.data {
		f.row(c, i, q, &t)
	}
}

// secant corrects the derivatives along the step from q to t by the models before and after
// it: the least correction, with each parameter in its own one-sigmas.
func (f *fitter) secant(q, t *params) {
	sum := 0.0
	floats.SubTo(f.part, f.model, f.before)
	for a, k := range f.free {
		step := t[k] - q[k]
		sum += f.normal.At(a, a) * step * step
		floats.AddScaled(f.part, -step, f.by[a])
	}
	if sum == 0 {
		return
	}
	for a, k := range f.free {
		floats.AddScaled(f.by[a], f.normal.At(a, a)*(t[k]-q[k])/sum, f.part)
	}
}

// relax loosens the priors of an evenly bright mirror and of a round shadow where q
// differs from them. Most telescopes are as even and as round as evenTo and roundTo; the
// others may be anything (a Cauchy prior, by reweighting).
func (f *fitter) relax(q *params) {
	f.tight[pLX] = 1 / (sq(evenTo) + sq(q[pLX]) + sq(q[pLY]))
	f.tight[pLY] = f.tight[pLX]
	f.tight[pHA] = 1 / (sq(roundTo) + sq(q[pHA]) + sq(q[pHB]))
	f.tight[pHB] = f.tight[pHA]
}

// accumulate builds the normal equations at q, which must be predicted, and returns the
// gradient side.
func (f *fitter) accumulate(q *params) []float64 {
	for i := range f.data {
		r := f.residual(i, q)
		w := f.weightOf(r) * f.slopes[i] / f.sigma[i]
		f.weight[i], f.force[i] = w*f.slopes[i]/f.sigma[i], w*r
	}
	h, g := f.equations(0, len(f.data))
	n := len(f.free)
	for a, k := range f.free {
		h[a*n+a] += f.tight[k]
		g[a] -= f.tight[k] * (q[k] - f.prior[k])
	}
	f.centre(q, h, g)
	f.normal = mat.NewSymDense(n, h)
	return g
}

// equations returns both sides of the normal equations of the samples from <= i < to, as
// accumulate weighted them.
func (f *fitter) equations(from, to int) (h, g []float64) {
	n := len(f.free)
	h, g = make([]float64, n*n), make([]float64, n)
	part := f.part[from:to]
	for a := range n {
		floats.MulTo(part, f.by[a][from:to], f.weight[from:to])
		for b := a; b < n; b++ {
			h[a*n+b] = floats.Dot(part, f.by[b][from:to])
		}
		g[a] = floats.Dot(f.by[a][from:to], f.force[from:to])
	}
	return h, g
}

// centre adds to the normal equations that the silhouette is near the middle of
// the pupil: s = o + k (1 - eps^2) = 0.
func (f *fitter) centre(q *params, h, g []float64) {
	n := len(f.free)
	s := q.shape(f.fresnel, 0)
	c := 1 - q[pEps]*q[pEps]
	for _, axis := range []struct {
		o, k int
		s    float64
	}{{pOX, pKX, s.sx}, {pOY, pKY, s.sy}} {
		io, ik := slices.Index(f.free, axis.o), slices.Index(f.free, axis.k)
		if io < 0 || ik < 0 {
			continue
		}
		h[io*n+io] += f.centred
		h[ik*n+ik] += f.centred * c * c
		h[min(io, ik)*n+max(io, ik)] += f.centred * c
		g[io] -= f.centred * axis.s
		g[ik] -= f.centred * c * axis.s
	}
}

// row sets the derivatives of sample i's model by the free parameters, as c shows them.
func (f *fitter) row(c *canvas, i int, q *params, t *tap) {
	d := &f.data[i]
	x, y := (d.x-q[pX])/q[pR], (d.y-q[pY])/q[pR]
	on := c.tapAt(x, y, t)
	var light, gx, gy float64
	if on {
		light, gx, gy = c.slope(c.blurred, t)
	}
	even := q.evenness(x, y)
	flux := q[pFlux] * even
	gx, gy = even*gx+q[pLX]*light, even*gy+q[pLY]*light // of the light, evenness included
	for a, k := range f.free {
		v := &f.by[a][i]
		switch k {
		case pX:
			*v = -(q[pFlux]*gx + q[pSX]) / q[pR]
		case pY:
			*v = -(q[pFlux]*gy + q[pSY]) / q[pR]
		case pR:
			*v = -(q[pFlux]*(gx*x+gy*y) + q[pSX]*x + q[pSY]*y) / q[pR]
			if on && slices.Contains(f.free, pN) {
				*v += flux * c.value(c.grad[pN], t) / q[pR]
			}
		case pFlux:
			*v = even * light
		case pLX:
			*v = q[pFlux] * x * light
		case pLY:
			*v = q[pFlux] * y * light
		case pSky:
			*v = 1
		case pSX:
			*v = x
		case pSY:
			*v = y
		default:
			*v = 0
			if on {
				*v = flux * c.value(c.grad[k], t)
			}
		}
	}
}

// step moves q by the damped Newton step, and returns by how much it should lower the cost;
// ok is false where the result is no possible star.
func (f *fitter) step(q *params, g []float64, lambda float64) (gain float64, ok bool) {
	n := len(f.free)
	h := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			v := f.normal.At(a, b)
			if a == b {
				v *= 1 + lambda
				v += 1e-300
			}
			h.SetSym(a, b, v)
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(h) {
		return 0, false
	}
	var d mat.VecDense
	if err := ch.SolveVecTo(&d, mat.NewVecDense(n, g)); err != nil {
		return 0, false
	}
	for a, k := range f.free {
		s := d.AtVec(a)
		if math.IsNaN(s) {
			return 0, false
		}
		q[k] += s
		gain += s * g[a]
	}
	q[pBlur] = max(q[pBlur], -f.pixel*f.pixel/12) // at the least, a camera of points instead of squares
	for k := pVane + 1; k < nParam; k += 2 {
		q[k] = min(max(q[k], 0), 0.2)
	}
	return gain, q.sane()
}

func (q *params) sane() bool {
	return q[pR] > 3 && q[pR] < 1e5 && math.Hypot(q[pOX], q[pOY]) < 0.9 && math.Hypot(q[pKX], q[pKY]) < 0.5 &&
		q[pEps] > 0.03 && q[pEps] < 0.7 && math.Abs(q[pN]) < 1 && q[pFlux] > 0 &&
		math.Hypot(q[pLX], q[pLY]) < 0.6 && math.Abs(q[pA0])+math.Abs(q[pA1]) < 0.3 && math.Abs(q[pSph]) < 0.3 && math.Hypot(q[pHA], q[pHB]) < 0.4
}
