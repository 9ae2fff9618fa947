package ring

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// The parameters that are fitted, stage by stage.
var (
	edgesFree = []int{pX, pY, pR, pOX, pOY, pBlur, pFlux, pSky}
	ringFree  = []int{pX, pY, pR, pOX, pOY, pKX, pKY, pN, pEps, pBlur, pFlux, pSky, pSX, pSY, pLX, pLY}
	allFree   = append(ringFree[:len(ringFree):len(ringFree)], pHA, pHB, pA0, pA1, pSph)
)

// The priors: one-sigmas of what a telescope and a camera may differ by from what is
// expected, and of the model itself. Judgement, but for blurLoose.
const (
	fresnelLoose   = 0.03 // of N: colour of star and camera, F, pixel size
	fresnelFree    = 0.3  // the same where the pixel size is a guess
	epsLoose       = 0.01 // of a secondary whose size is given
	epsFree        = 0.02 // of one that is not, about what the outline says
	blurLoose      = 0.5  // of the area of a sample, px^2, about 1 px^2
	evenTo         = 0.01 // of its brightness, from middle to edge: the mirror's coating and dew
	roundTo        = 0.01 // of its radius: the shadow
	figureTo       = 0.5  // wave: peak of astigmatism or spherical aberration, of a poor mirror that has not cooled
	centredTo      = 0.03 // radii: the silhouette in the pupil
	modelErrorPart = 0.01 // RMS error of the model over the flux: mirror, dust, dew, colours
)

// fitting is a fit under way, from corrected outlines.
type fitting struct {
	*fitter
	q      params
	o      outline
	pixel  float64 // mm, that its fringes stand for
	misfit float64 // median distance of the lit samples from the model, over the ring's light
}

// otherPixels are the pixel sizes from which a fit is also begun, in units of the one that
// is guessed or contradicted by the fringes. A driver that joins two or four pixels makes
// 2 or 4, a forgotten Barlow lens of 2 or 4 makes 0.5 or 0.25; a fit finds its way from
// within 30 % or so of the true one (fresnelFree).
var otherPixels = [...]float64{0.25, 0.45, 2.2, 4}

// fit refines an outline by the forward model. The fringes give the Fresnel number, and so
// the size of a pixel. Where that was not told, or where the fringes contradict it, the
// fit is also begun from other sizes, and the best is kept.
func (m *Meter) fit(f *frame.Frame, s detection, o outline) Measurement {
	told := m.pixel
	defer func() { m.pixel, m.bias.known = told, false }()
	// A sample may be a good part of the finest feature that matters, the first
	// fringe, 1/sqrt(N) radii wide, and of the ring.
	bin := max(1, min(int(0.2*math.Sqrt(o.outer.Radius/m.fresnelPerPx())), int(o.outer.Radius/leastSamples)))
	best, ok := m.rough(f, s, o, told, bin)
	guessed := m.cfg.PixelMM <= 0
	if ok && !guessed {
		m.refine(&best)
	}
	if guessed || !ok || best.pull(&best.q, pN) > contradicted {
		other, found := m.others(f, s, o, told, bin)
		switch {
		case !found:
		case guessed && (!ok || other.misfit < best.misfit):
			best, ok = other, true
		case !guessed:
			m.refine(&other)
			// Where the told size has more fringes than can be drawn, another one is only taken if
			// its fit is that of an expected telescope.
			apart := math.Abs(math.Log(other.pixel/told) + other.q[pN])
			sound := other.doubt(&other.q) < 1 && math.Abs(other.q[pN]) < 2*fresnelFree && apart > otherPixel
			if sound && (!ok || other.misfit < better*best.misfit) {
				best, ok = other, true
			}
		}
		if guessed && ok {
			m.refine(&best)
		}
	}
	m.pixel = best.pixel
	if !ok {
		m.bias.known = false
		m.correct(&o)
		return m.corrected(f, o) // more fringes than the grid can show
	}
	return m.report(f, s, best.fitter, &best.q, best.o)
}

// leastSamples is how many samples the ring's radius has at the least, where there are as many.
const leastSamples = 35

// others begins the fit from other pixels than the told one and returns the best.
func (m *Meter) others(f *frame.Frame, s detection, o outline, told float64, bin int) (best fitting, found bool) {
	for _, k := range otherPixels {
		if g, ok := m.rough(f, s, o, k*told, bin); ok && (!found || g.misfit < best.misfit) {
			best, found = g, true
		}
	}
	return best, found
}

// The conditions for taking another pixel than the one that was told: the Fresnel number
// is off by contradicted of its one-sigma, and with the other pixel the misfit is smaller
// by the factor better and the telescope as expected. Judgement, but for otherPixel.
const (
	contradicted = 1.5  // a true pixel pulls by 0.1 on rendered stars; one told as a quarter by 2 to 3, from where no fit finds the way
	better       = 0.97 // so little, because in air most of the misfit is speckles
	otherPixel   = 0.3  // logarithm of the ratio: pixels are joined by twos at the least, and the weakest Barlow lenses have 1.5
)

// rough begins a fit as if a pixel were so wide, mm, to samples of bin x bin pixels. ok is false where there are more
// fringes than the grid can show.
func (m *Meter) rough(f *frame.Frame, s detection, o outline, pixel float64, bin int) (g fitting, ok bool) {
	m.pixel, m.bias.known = pixel, false
	m.correct(&o)
	g = fitting{q: m.guess(s, o), o: o, pixel: pixel}
	n := m.fresnelPerPx() * g.q[pR]
	if n > mostFresnel(256, math.Hypot(g.q[pKX], g.q[pKY])) {
		return g, false
	}
	g.fitter = m.fitter(f, s, &g.q, bin)
	m.priors(g.fitter, g.q)
	if pixel != m.cfg.PixelMM {
		g.tight[pN] = 1 / sq(fresnelFree)
	}
	g.sketch = m.canvasOf(grid{128, 3, true})
	g.picture = g.sketch
	g.sketch.widen(n)
	g.predict(&g.q)
	g.derive(&g.q, edgesFree)
	g.descend(&g.q, 3)
	g.learnNoise(&g.q)
	g.derive(&g.q, ringFree)
	g.descend(&g.q, 3)
	g.misfit = g.distance(&g.q)
	return g, true
}

// A grid of 128 moves the offset by 1e-4 radii where the Fresnel number is fineFrom, and by
// 2e-4 where it is 150; with samples wider than finePixel radii it shows all that they do.
const (
	fineFrom  = 100
	finePixel = 0.03
)

// refine ends a fit, with all parameters free.
func (m *Meter) refine(g *fitting) {
	n := g.fresnel * g.q[pR]
	coarse, fine := grid{128, 5, true}, grid{256, 5, true}
	sketch, picture := coarse, coarse
	switch {
	case n > mostFresnel(128, math.Hypot(g.q[pKX], g.q[pKY])):
		sketch, picture = fine, fine
	case n > fineFrom && g.fitter.pixel < finePixel*g.q[pR]:
		picture = fine
	}
	g.sketch, g.picture = m.canvasOf(sketch), m.canvasOf(picture)
	g.sketch.widen(n)
	g.picture.widen(n)
	g.predict(&g.q)
	free := g.freeVanes(&g.q)
	g.begin(free)
	if g.vanes == 0 { // none stood out; perhaps one does from a better fit
		if free = g.freeVanes(&g.q); g.vanes > 0 {
			g.begin(free)
		}
	}
	g.learnNoise(&g.q)
	if !g.descend(&g.q, 6) {
		g.derive(&g.q, free)
		g.descend(&g.q, 6)
	}
	g.learnNoise(&g.q)
	g.accumulate(&g.q)
	g.misfit = g.distance(&g.q)
}

// begin begins to fit the parameters that are free from now on.
func (g *fitting) begin(free []int) {
	g.learnNoise(&g.q)
	g.predict(&g.q)
	g.derive(&g.q, free)
	g.descend(&g.q, 5)
}

// guess returns the model that an outline suggests.
func (m *Meter) guess(s detection, o outline) params {
	r := o.outer.Radius
	var q params
	q[pX], q[pY], q[pR] = o.outer.X, o.outer.Y, r
	q[pOX], q[pOY] = (o.inner.X-o.outer.X)/r, (o.inner.Y-o.outer.Y)/r
	q[pEps] = min(max(o.inner.Radius/r, leastEps), mostEps)
	share := o.comaShare(math.Hypot(q[pOX], q[pOY]), q[pEps]) / (1 - sq(q[pEps]))
	q[pKX], q[pKY] = -q[pOX]*share, -q[pOY]*share
	q[pFlux] = o.light
	q[pSky] = s.sky.at(q[pX], q[pY])
	q[pSX], q[pSY] = s.sky.gx*r, s.sky.gy*r
	q[pBlur] = 1
	return q
}

// inside returns how far, in radii, the half-level edges of a ring of r px lie
// inside the lit zone: 0.25/sqrt(N), by an exact calculation (F/5, |z| = 5:
// 0.487 for 0.500, shadow 0.137 for 0.125 mm).
func (m *Meter) inside(r float64) float64 { return 0.25 / math.Sqrt(m.fresnelPerPx()*r) }

func (m *Meter) priors(f *fitter, q params) {
	f.prior = q
	f.prior[pN], f.tight[pN] = 0, 1/sq(fresnelLoose)
	if m.cfg.PixelMM <= 0 {
		f.tight[pN] = 1 / sq(fresnelFree)
	}
	f.tight[pEps] = 1 / sq(epsFree)
	if m.cfg.Telescope.Secondary > 0 && math.Abs(m.eps-q[pEps]) < epsFree {
		f.prior[pEps], f.tight[pEps] = m.eps, 1/sq(epsLoose)
	}
	f.prior[pBlur], f.tight[pBlur] = 1, 1/sq(blurLoose*f.pixel*f.pixel)
	// A wavefront of w waves moves the outline by 2 w / N radii if it is astigmatism, and a
	// zone by 4 w / N if it is spherical aberration.
	n := f.fresnel * q[pR]
	f.tight[pA0] = 1 / sq(2*figureTo/n)
	f.tight[pA1] = f.tight[pA0]
	f.tight[pSph] = 1 / sq(4*figureTo/n)
	f.centred = 1 / (sq(centredTo) + (sq(q[pOX])+sq(q[pOY]))/4)
	f.modelError = modelErrorPart
}

// report turns the finished fit into a measurement.
func (m *Meter) report(f *frame.Frame, s detection, ft *fitter, q *params, o outline) Measurement {
	cov, inv, ok := ft.covariance()
	edges := r2.Vec{X: o.inner.X - o.outer.X, Y: o.inner.Y - o.outer.Y}
	beside := m.outlineSigma(&o, edges)
	shown := ft.fresnel*q[pR] < mostFresnel(256, math.Hypot(q[pKX], q[pKY]))
	if !ok || !shown || !q.agrees(&o, beside) { // the fit failed: the outline is the result
		return m.corrected(f, o)
	}
	out := Measurement{Found: true}
	out.Ring = Circle{X: q[pX], Y: q[pY], Radius: q[pR]}
	// Edges and fit are two measurements of the offset, weighted by their sigmas.
	doubt := ft.doubt(q)
	out.Offset = r2.Vec{X: q[pOX] * q[pR], Y: q[pOY] * q[pR]}
	out.Offset = r2.Add(out.Offset, r2.Scale(sq(doubt)/(1+sq(doubt)), r2.Sub(edges, out.Offset)))
	e2 := sq(q[pEps])
	out.Coma, out.Split = r2.Vec{X: -q[pKX] * (1 - e2) * q[pR], Y: -q[pKY] * (1 - e2) * q[pR]}, true
	// Spherical aberration moves the zone eps, which is the shadow's edge.
	out.Shadow = Circle{X: q[pX] + out.Offset.X, Y: q[pY] + out.Offset.Y, Radius: q[pEps] * (1 - q[pSph]*(1-e2)) * q[pR]}
	out.Star, out.Seen = r2.Vec{X: q[pX], Y: q[pY]}, true
	ix, iy := 3, 4 // of pOX and pOY in the free list
	vx, vy := max(cov.At(ix, ix), inv.At(ix, ix)), max(cov.At(iy, iy), inv.At(iy, iy))
	rest := math.Hypot(beside/q[pR]*doubt, unevenShare*math.Hypot(q[pLX], q[pLY])*3./8*(1-e2))
	rest *= q[pR]
	out.Sigma = r2.Vec{X: math.Hypot(math.Sqrt(vx)*q[pR], rest), Y: math.Hypot(math.Sqrt(vy)*q[pR], rest)}
	out.NoiseSigma = r2.Vec{X: math.Sqrt(inv.At(ix, ix)) * q[pR], Y: math.Sqrt(inv.At(iy, iy)) * q[pR]}
	if vague(out) {
		return s.nothing(Faint)
	}
	sd := func(k int) float64 {
		i := slices.Index(ft.free, k)
		return math.Sqrt(max(cov.At(i, i), inv.At(i, i)))
	}
	out.Obstruction, out.ObstructionSigma = q[pEps], math.Hypot(sd(pEps), doubt*m.obstructionSigma(&o))
	out.PixelMM = m.pixel * math.Exp(q[pN])
	if own := 1/sq(sd(pN)) - ft.tight[pN]; own > 0 && doubt < 1 { // without what was known before
		out.PixelSigma = math.Hypot(fresnelLoose, 1/math.Sqrt(own))
	}
	if m.cfg.PixelMM > 0 && m.pixel == m.cfg.PixelMM {
		out.PixelMM = m.pixel
	}
	out.Clipped = o.clipped
	out.Level = level(f, q[pFlux])
	out.Flags = m.flags(&o, out.PixelSigma)
	if m.inspect != nil {
		m.inspect(ft, q, cov, inv)
	}
	return out
}

// agrees reports whether a fit still describes the outline from which it began, whose
// offset has a one-sigma of beside px: the shadow is in the ring, and ring, shadow and
// offset are about where the edges are. A model with the wrong fringes can run away.
func (q *params) agrees(o *outline, beside float64) bool {
	r := o.outer.Radius
	dx, dy := q[pOX]*q[pR]-(o.inner.X-o.outer.X), q[pOY]*q[pR]-(o.inner.Y-o.outer.Y)
	return math.Hypot(q[pOX], q[pOY])+q[pEps] < farthest && math.Hypot(q[pX]-o.outer.X, q[pY]-o.outer.Y) < 0.1*r &&
		math.Abs(q[pR]/r-1) < 0.15 && math.Hypot(dx, dy) < max(mostOff*beside, 0.02*r)
}

// mostOff is how many of the outline's sigma a fit may stand off it.
const mostOff = 5

// doubt returns the least sigma of a fit as a part of the outline's, 0.05 to 1, because a
// model is simpler than a telescope: it has one band of colours and a smooth mirror. Where
// the fit leaves what is expected (fringes of another width than the focal ratio and the
// pixel give, or a poor figure) by two of the prior's one-sigmas, it is 1.
func (f *fitter) doubt(q *params) float64 {
	pull := 0.0
	for _, k := range [...]int{pN, pEps, pA0, pA1, pSph} {
		if k == pN && f.tight[pN] < 1/sq(fresnelLoose) {
			continue // without a told pixel nothing is expected
		}
		pull = max(pull, f.pull(q, k))
	}
	return min(max(sq(pull/2), leastDoubt), 1)
}

// pull returns by how many of its prior's one-sigma a parameter has left it.
func (f *fitter) pull(q *params, k int) float64 {
	return math.Sqrt(f.tight[k]) * math.Abs(q[k]-f.prior[k])
}

const (
	leastDoubt  = 0.02 // of the outline's sigma: so much that the errors on testdata/stars are about what is claimed
	unevenShare = 0.05 // of the lean that an uneven mirror could be taken for, 3/8 (1 - eps^2) of its slope
)

// vague reports whether the sigma is so large that nothing is known: the shadow's offset
// is rarely more than a quarter of the ring.
func vague(m Measurement) bool { return !(max(m.Sigma.X, m.Sigma.Y) < 0.25*m.Ring.Radius) }

func level(f *frame.Frame, light float64) float64 {
	if f.White <= 0 {
		return 0
	}
	return min(1, max(0, light/float64(f.White)))
}

func sq(x float64) float64 { return x * x }
