package ring

import (
	"math"
	"slices"

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
	*canvas            // the model and its derivatives
	fine       *canvas // the one to end with
	last       bool    // the end of the fit: the derivatives are made anew in each round, and not only where the old ones no longer help
	fresnel    float64 // N per px of radius
	vanes      int
	pixel      float64 // side of a sample, px
	data       []sample
	noise      noise
	modelError float64 // of the model itself: RMS error over flux
	prior      params  // means
	tight      params  // 1 / sigma^2 of the prior; 0 is free

	centred float64 // 1 / sigma^2 of the silhouette's place, radii

	model, sigma, weight []float64
	slopes               []float64 // by how much a sample rises with its light: below 1 where some of it is cut
	ceiling              float64   // at which light is cut, ADU
	scale                float64   // robust RMS of residual / sigma
	normal               *mat.SymDense
	free                 []int
}

// residuals evaluates q, which must be drawn, and returns the robust cost.
func (f *fitter) residuals(q *params) float64 {
	var t tap
	cost := 0.0
	for i := range f.data {
		d := &f.data[i]
		x, y := (d.x-q[pX])/q[pR], (d.y-q[pY])/q[pR]
		m := q[pSky] + q[pSX]*x + q[pSY]*y
		if f.tapAt(x, y, &t) {
			m += q[pFlux] * q.evenness(x, y) * f.value(f.blurred, &t)
		}
		f.model[i] = m
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
// ring's light. The model must be drawn.
func (f *fitter) distance(q *params) float64 {
	f.residuals(q)
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

// run refines q by Levenberg and Marquardt's method over the free parameters.
func (f *fitter) run(q *params, free []int, rounds int) {
	f.free = free
	f.draw(q, f.fresnel, f.vanes, f.pixel)
	if f.scale == 0 {
		f.scale = 1e6
		f.residuals(q)
	}
	f.rescale(q)
	f.relax(q)
	cost := f.residuals(q)
	lambda := 1e-3
	known := false // the derivatives, which cost most
	for range rounds {
		fresh := !known || f.last
		if fresh {
			f.derive(q, f.fresnel, f.vanes, free)
			known = true
		}
		g := f.accumulate(q)
		gain := 0.0
		for range 4 {
			t := *q
			if f.step(&t, g, lambda) {
				f.draw(&t, f.fresnel, f.vanes, f.pixel)
				if c := f.residuals(&t); c < cost {
					gain = cost - c
					*q, cost = t, c
					lambda = max(lambda/10, 1e-9)
					break
				}
			}
			lambda *= 10
		}
		if gain == 0 {
			f.draw(q, f.fresnel, f.vanes, f.pixel)
			f.residuals(q)
			if fresh {
				break
			}
			known = false
			continue
		}
		if gain < 0.003 {
			break
		}
		f.rescale(q)
		f.relax(q)
		cost = f.residuals(q)
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

// accumulate builds the normal equations at q, whose residuals are known, and
// returns the gradient side.
func (f *fitter) accumulate(q *params) []float64 {
	n := len(f.free)
	h := make([]float64, n*n)
	g := make([]float64, n)
	row := make([]float64, n)
	var t tap
	for i := range f.data {
		r := f.residual(i, q)
		f.row(i, q, &t, row)
		w := f.weightOf(r)
		f.weight[i] = w
		s := f.sigma[i]
		for a := range n {
			ja := row[a] / s * w
			g[a] += ja * r
			ja /= s
			for b := a; b < n; b++ {
				h[a*n+b] += ja * row[b]
			}
		}
	}
	for a, k := range f.free {
		h[a*n+a] += f.tight[k]
		g[a] -= f.tight[k] * (q[k] - f.prior[k])
	}
	f.centre(q, h, g)
	f.normal = mat.NewSymDense(n, h)
	return g
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

// row sets the derivatives of sample i's model by the free parameters.
func (f *fitter) row(i int, q *params, t *tap, row []float64) {
	d := &f.data[i]
	x, y := (d.x-q[pX])/q[pR], (d.y-q[pY])/q[pR]
	on := f.tapAt(x, y, t)
	var v, gx, gy float64
	if on {
		v, gx, gy = f.slope(f.blurred, t)
	}
	even := q.evenness(x, y)
	flux := q[pFlux] * even
	gx, gy = even*gx+q[pLX]*v, even*gy+q[pLY]*v // of the light, evenness included
	for a, k := range f.free {
		switch k {
		case pX:
			row[a] = -(q[pFlux]*gx + q[pSX]) / q[pR]
		case pY:
			row[a] = -(q[pFlux]*gy + q[pSY]) / q[pR]
		case pR:
			row[a] = -(q[pFlux]*(gx*x+gy*y) + q[pSX]*x + q[pSY]*y) / q[pR]
			if on && slices.Contains(f.free, pN) {
				row[a] += flux * f.value(f.grad[pN], t) / q[pR]
			}
		case pFlux:
			row[a] = even * v
		case pLX:
			row[a] = q[pFlux] * x * v
		case pLY:
			row[a] = q[pFlux] * y * v
		case pSky:
			row[a] = 1
		case pSX:
			row[a] = x
		case pSY:
			row[a] = y
		default:
			row[a] = 0
			if on {
				row[a] = flux * f.value(f.grad[k], t)
			}
		}
	}
	if k := f.slopes[i]; k < 1 {
		for a := range row {
			row[a] *= k
		}
	}
}

// step moves q by the damped Newton step; false where the result is no possible star.
func (f *fitter) step(q *params, g []float64, lambda float64) bool {
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
		return false
	}
	var d mat.VecDense
	if err := ch.SolveVecTo(&d, mat.NewVecDense(n, g)); err != nil {
		return false
	}
	for a, k := range f.free {
		s := d.AtVec(a)
		if math.IsNaN(s) {
			return false
		}
		q[k] += s
	}
	q[pBlur] = max(q[pBlur], -f.pixel*f.pixel/12) // at the least, a camera of points instead of squares
	for k := pVane + 1; k < nParam; k += 2 {
		q[k] = min(max(q[k], 0), 0.2)
	}
	return q.sane()
}

func (q *params) sane() bool {
	return q[pR] > 3 && q[pR] < 1e5 && math.Hypot(q[pOX], q[pOY]) < 0.9 && math.Hypot(q[pKX], q[pKY]) < 0.5 &&
		q[pEps] > 0.03 && q[pEps] < 0.7 && math.Abs(q[pN]) < 1 && q[pFlux] > 0 &&
		math.Hypot(q[pLX], q[pLY]) < 0.6 && math.Abs(q[pA0])+math.Abs(q[pA1]) < 0.3 && math.Abs(q[pSph]) < 0.3 && math.Hypot(q[pHA], q[pHB]) < 0.4
}
