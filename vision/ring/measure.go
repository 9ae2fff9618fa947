package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
)

// The parameters that are set free, stage by stage.
var (
	edgesFree = []int{pX, pY, pR, pOX, pOY, pBlur, pFlux, pSky}
	allFree   = []int{pX, pY, pR, pOX, pOY, pKX, pKY, pN, pEps, pBlur, pFlux, pSky, pSX, pSY}
)

// How far the model may wander, one sigma, and how wrong it is.
const (
	fresnelLoose = 0.03 // of N: colour of star and camera, F, pixel size
	fresnelFree  = 0.3  // the same where the pixel size is a guess
	epsLoose     = 0.01 // of a secondary whose size is given
	epsFree      = 0.1  // of one that is not
	blurLoose    = 0.5  // px^2, about 1
	centredTo    = 0.03 // radii: the silhouette in the pupil
	modelFlaw    = 0.01 // RMS error of the model over the flux: mirror, dust, dew, colours
)

// fit refines an outline by the forward model.
func (m *Meter) fit(f *frame.Frame, s sight, o outline) Measurement {
	perPx := m.fresnelPerPx()
	q := m.guess(s, o)
	// A sample may be a good part of the finest feature that matters, the first
	// fringe, 1/sqrt(N) radii wide.
	fringe := q[pR] / math.Sqrt(perPx*q[pR])
	ft := m.fitter(f, s, &q, max(1, int(0.2*fringe)))
	m.priors(ft, q)

	ft.canvas = m.canvasOf(128, 3)
	ft.run(&q, edgesFree, 3)
	ft.learnNoise(&q)
	ft.run(&q, allFree, 3)
	// The derivatives must be those of the picture: three colours instead of five
	// point nowhere from where three have led (docs/measurement.md).
	ft.canvas = m.canvasOf(256, 5)
	ft.draw(&q, ft.fresnel, 0, ft.pixel)
	free := ft.freeVanes(&q)
	ft.learnNoise(&q)
	ft.run(&q, free, 3)
	ft.learnNoise(&q)
	ft.run(&q, free, 2)
	ft.learnNoise(&q)
	ft.accumulate(&q)
	return m.report(f, s, ft, &q, o)
}

// guess returns the model that an outline suggests.
func (m *Meter) guess(s sight, o outline) params {
	m.bias.known = false
	m.correct(&o)
	r := o.outer.Radius
	var q params
	q[pX], q[pY], q[pR] = o.outer.X, o.outer.Y, r
	q[pOX], q[pOY] = (o.inner.X-o.outer.X)/r, (o.inner.Y-o.outer.Y)/r
	q[pEps] = m.eps
	q[pKX], q[pKY] = -q[pOX]/(1-m.eps*m.eps), -q[pOY]/(1-m.eps*m.eps)
	q[pFlux] = o.light
	q[pSky] = s.sky.at(q[pX], q[pY])
	q[pSX], q[pSY] = s.sky.gx*r, s.sky.gy*r
	q[pBlur] = 1
	return q
}

// inside returns how far, in radii, the half-level edges of a ring of r px lie
// inside the lit zone: 0.25/sqrt(N), from reference.md 14.3 (F/5, |z| = 5:
// 0.487 for 0.500, shadow 0.137 for 0.125 mm).
func (m *Meter) inside(r float64) float64 { return 0.25 / math.Sqrt(m.fresnelPerPx()*r) }

func (m *Meter) priors(f *fitter, q params) {
	f.prior = q
	f.prior[pN], f.tight[pN] = 0, 1/sq(fresnelLoose)
	if m.cfg.PixelMM <= 0 {
		f.tight[pN] = 1 / sq(fresnelFree)
	}
	f.prior[pEps], f.tight[pEps] = m.eps, 1/sq(epsLoose)
	if m.cfg.Telescope.Secondary <= 0 {
		f.tight[pEps] = 1 / sq(epsFree)
	}
	f.prior[pBlur], f.tight[pBlur] = 1, 1/sq(blurLoose)
	f.centred = 1 / sq(centredTo)
	f.flaw = modelFlaw
}

// report turns the finished fit into a measurement.
func (m *Meter) report(f *frame.Frame, s sight, ft *fitter, q *params, o outline) Measurement {
	cov, inv, ok := ft.covariance(q)
	if !ok { // the fit got nowhere: the outline stands
		m.bias.known = false
		return m.fromOutline(f, s.sky, o)
	}
	out := Measurement{Found: true}
	out.Ring = Circle{q[pX], q[pY], q[pR]}
	out.Offset = r2.Vec{X: q[pOX] * q[pR], Y: q[pOY] * q[pR]}
	e2 := sq(q[pEps])
	out.Coma, out.Split = r2.Vec{X: -q[pKX] * (1 - e2) * q[pR], Y: -q[pKY] * (1 - e2) * q[pR]}, true
	out.Shadow = Circle{q[pX] + out.Offset.X, q[pY] + out.Offset.Y, q[pEps] * q[pR]}
	out.Star, out.Seen = r2.Vec{X: q[pX], Y: q[pY]}, true
	ix, iy := 3, 4 // of pOX and pOY in the free list
	vx, vy := max(cov.At(ix, ix), inv.At(ix, ix)), max(cov.At(iy, iy), inv.At(iy, iy))
	n := ft.fresnel * q[pR]
	floor := math.Hypot(fitFloor(n), 0.5*burntWings*o.clipped/math.Pow(n, 1.5)) * q[pR]
	out.Sigma = r2.Vec{X: math.Hypot(math.Sqrt(vx)*q[pR], floor), Y: math.Hypot(math.Sqrt(vy)*q[pR], floor)}
	if vague(out) {
		return s.nothing(Faint)
	}
	out.Clipped = o.clipped
	out.Level = level(f, q[pFlux])
	out.Flags = m.flags(&o)
	if m.look != nil {
		m.look(ft, q)
	}
	return out
}

// fitFloor returns what a fit may be off by for all its light, ring radii, at a
// Fresnel number of n: nobody knows the camera's spectrum, and the fewer fringes
// there are the more it matters. Measured on frames of three lines, by a model of
// an even band (docs/measurement.md).
func fitFloor(n float64) float64 { return math.Hypot(min(1.5/math.Pow(n, 2.5), 0.0008), 5e-5) }

// vague tells whether the sigma says that nothing is known: a quarter of the ring
// is as far as the shadow could lean at all.
func vague(m Measurement) bool { return !(max(m.Sigma.X, m.Sigma.Y) < 0.25*m.Ring.Radius) }

func level(f *frame.Frame, light float64) float64 {
	if f.White <= 0 {
		return 0
	}
	return min(1, max(0, light/float64(f.White)))
}

func sq(x float64) float64 { return x * x }
