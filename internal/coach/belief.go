package coach

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
)

// hypothesis is one account of which side of focus the star is on now, with the
// estimate that goes with it: a Kalman filter over x = (ax, ay, qx, qy), the axis
// point relative to the target, mm on the sensor, and q, the secondary's own
// displacement in the pupil together with the tube axis's, mm. With the side
// taken for granted the offset is linear in x (design 2.5):
//
//	d = -K (s - a) - (z/f) (q - m (2a - s)),  z = side * 2 F R
type hypothesis struct {
	side float64 // +1 outside focus, -1 inside
	x    *mat.VecDense
	p    *mat.SymDense
	logW float64    // log-evidence, relative
	seen [2]float64 // independent frames of each side since the mirror moved
	at   [2]r2.Vec  // mean star position of what was seen, per side
	rung []rung     // the ring sizes that were seen
}

// rung is a look at one defocus.
type rung struct {
	side, radius float64
	n            float64 // independent frames
}

// look adds a frame to what was seen at this defocus.
func (h *hypothesis) look(radius, n float64) {
	for i := range h.rung {
		if r := &h.rung[i]; r.side == h.side && math.Abs(radius-r.radius) < 0.1*r.radius {
			r.n += n
			return
		}
	}
	h.rung = append(h.rung, rung{h.side, radius, n})
}

// spread returns the ratio of the largest to the smallest ring that was well seen
// on one side of focus.
func (h *hypothesis) spread() float64 {
	most := 1.0
	for _, a := range h.rung {
		for _, b := range h.rung {
			if a.side == b.side && a.n >= leastLooks && b.n >= leastLooks {
				most = math.Max(most, a.radius/b.radius)
			}
		}
	}
	return most
}

func sideIndex(side float64) int {
	if side > 0 {
		return 1
	}
	return 0
}

// belief is a bank of such hypotheses. Neither side is preferred at the start;
// each racking through focus leaves a little doubt whether it went through.
type belief struct {
	o     optic
	hyps  []*hypothesis
	noise noise
	work  workspace
	n     int // measurements so far

	oneSided bool // the focuser cannot reach the other side

	// How well the measurements are foretold: running means of the innovation
	// squared, in its own one-sigma, and of the innovation itself.
	strange float64
	bias    r2.Vec
}

// newBelief starts with the axis point anywhere within axisSD and the
// silhouette displaced as secondaries are.
func newBelief(o optic) *belief {
	const axisSD = 4
	t := o.t
	q := 1.5 + 0.004*t.Aperture + 0.7*t.Obstruction()*t.Aperture/(4*o.ratio)
	b := &belief{work: newWorkspace(), o: o, noise: newNoise(o), strange: 2}
	for _, side := range []float64{1, -1} {
		h := &hypothesis{side: side, x: mat.NewVecDense(4, nil), p: mat.NewSymDense(4, nil)}
		for i := range 2 {
			h.p.SetSym(i, i, axisSD*axisSD)
			h.p.SetSym(i+2, i+2, q*q)
		}
		b.hyps = append(b.hyps, h)
	}
	return b
}

// gains returns how the offset answers to a and to q.
func (b *belief) gains(side, radius float64) (toAxis, toQ, toStar float64) {
	zf := side * 2 * b.o.ratio * radius / b.o.f
	return b.o.k + 2*zf*b.o.m, -zf, -b.o.k - zf*b.o.m
}

// predict returns the offset that h expects.
func (b *belief) predict(h *hypothesis, star r2.Vec, radius float64) r2.Vec {
	ga, gq, gs := b.gains(h.side, radius)
	x := h.x
	return r2.Vec{
		X: ga*x.AtVec(0) + gq*x.AtVec(2) + gs*star.X,
		Y: ga*x.AtVec(1) + gq*x.AtVec(3) + gs*star.Y,
	}
}

// measure takes in one offset: star, radius, offset and its one-sigma from light
// alone, mm. It reports whether the measurement fits what was believed.
func (b *belief) measure(star r2.Vec, radius float64, offset, light r2.Vec) bool {
	best := b.best()
	fits := b.nis(best, star, radius, offset, light) < 25
	b.noise.add(r2.Sub(offset, b.predict(best, star, radius)), light, fits)
	b.watch(best, star, radius, offset, light)
	top := math.Inf(-1)
	for _, h := range b.hyps {
		b.update(h, star, radius, offset, light)
		top = math.Max(top, h.logW)
	}
	for _, h := range b.hyps {
		h.logW -= top
	}
	b.prune()
	b.n++
	return fits
}

// watch keeps account of how well the best hypothesis foretells.
func (b *belief) watch(h *hypothesis, star r2.Vec, radius float64, offset, light r2.Vec) {
	const keep = 0.88
	ga, gq, _ := b.gains(h.side, radius)
	nu := r2.Sub(offset, b.predict(h, star, radius))
	v := b.noise.variance(light)
	sd := func(i int, v float64) float64 {
		return math.Sqrt(ga*ga*h.p.At(i, i) + 2*ga*gq*h.p.At(i, i+2) + gq*gq*h.p.At(i+2, i+2) + v)
	}
	z := r2.Vec{X: nu.X / sd(0, v.X), Y: nu.Y / sd(1, v.Y)}
	b.strange = keep*b.strange + (1-keep)*math.Min(r2.Norm2(z), 60)
	b.bias = r2.Add(r2.Scale(keep, b.bias), r2.Scale(1-keep, z))
}

// astray reports whether the measurements have left what is believed: something
// moved that was not seen. The bias of white innovations has a variance of
// (1-keep)/(1+keep) per axis; alike ones more.
func (b *belief) astray() bool {
	v := 0.064 * b.noise.inflation()
	return b.strange > 10 || r2.Norm2(b.bias) > 25*v
}

// sound reports whether they agree so well that a claim may stand on them.
func (b *belief) sound() bool {
	v := 0.064 * b.noise.inflation()
	return b.strange < 5 && r2.Norm2(b.bias) < 11*v
}

// trust begins the account anew.
func (b *belief) trust() { b.strange, b.bias = 2, r2.Vec{} }

// nis returns the normalised innovation squared (2 degrees of freedom) of one
// measurement, against what one frame may scatter.
func (b *belief) nis(h *hypothesis, star r2.Vec, radius float64, offset, light r2.Vec) float64 {
	ga, gq, _ := b.gains(h.side, radius)
	nu := r2.Sub(offset, b.predict(h, star, radius))
	v := b.noise.variance(light)
	s := func(i int) float64 {
		return ga*ga*h.p.At(i, i) + 2*ga*gq*h.p.At(i, i+2) + gq*gq*h.p.At(i+2, i+2)
	}
	return nu.X*nu.X/(s(0)+v.X) + nu.Y*nu.Y/(s(1)+v.Y)
}

// shift moves the axis point by d in every hypothesis, with a one-sigma of sd
// per axis, mm.
func (b *belief) shift(d r2.Vec, sd float64) {
	for _, h := range b.hyps {
		h.x.SetVec(0, h.x.AtVec(0)+d.X)
		h.x.SetVec(1, h.x.AtVec(1)+d.Y)
		for i := range 2 {
			h.p.SetSym(i, i, h.p.At(i, i)+sd*sd)
		}
	}
}

// loosenQ widens the silhouette's place by a one-sigma of sd, mm.
func (b *belief) loosenQ(sd float64) {
	for _, h := range b.hyps {
		for i := 2; i < 4; i++ {
			h.p.SetSym(i, i, h.p.At(i, i)+sd*sd)
		}
	}
}

// changed forgets which sides were seen: the mirror has moved.
func (b *belief) changed() {
	for _, h := range b.hyps {
		h.seen, h.rung = [2]float64{}, nil
	}
}

// racked splits every hypothesis: the focuser went through focus with the given
// probability, or came back on the same side.
func (b *belief) racked(through float64) {
	old := b.hyps
	b.hyps = nil
	for _, h := range old {
		same, other := h.copy(), h
		same.logW += math.Log(1 - through)
		other.logW += math.Log(through)
		other.side = -other.side
		b.hyps = append(b.hyps, other, same)
	}
	b.prune()
}

func (h *hypothesis) copy() *hypothesis {
	c := *h
	c.x = mat.VecDenseCopyOf(h.x)
	c.p = mat.NewSymDense(4, nil)
	c.p.CopySym(h.p)
	c.rung = slices.Clone(h.rung)
	return &c
}

// prune drops what has become incredible, and keeps eight at most.
func (b *belief) prune() {
	const incredible, most = 20, 8
	best := b.best().logW
	for floor := incredible + 0.0; ; floor *= 0.8 {
		keep := b.hyps[:0:0]
		for _, h := range b.hyps {
			if h.logW >= best-floor {
				keep = append(keep, h)
			}
		}
		b.hyps = keep
		if len(keep) <= most || floor < 1 {
			return
		}
	}
}

func (b *belief) best() *hypothesis {
	best := b.hyps[0]
	for _, h := range b.hyps[1:] {
		if h.logW > best.logW {
			best = h
		}
	}
	return best
}

// weights returns the probabilities of the hypotheses.
func (b *belief) weights() []float64 {
	best, sum := b.best().logW, 0.0
	w := make([]float64, len(b.hyps))
	for i, h := range b.hyps {
		w[i] = math.Exp(h.logW - best)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

func (h *hypothesis) axis() r2.Vec { return r2.Vec{X: h.x.AtVec(0), Y: h.x.AtVec(1)} }

// axisSD returns the largest one-sigma of the axis point in any direction, mm.
func (h *hypothesis) axisSD() float64 {
	a, d, c := h.p.At(0, 0), h.p.At(1, 1), h.p.At(0, 1)
	return math.Sqrt((a+d)/2 + math.Hypot((a-d)/2, c))
}

// axis returns the mean axis point over all hypotheses and its one-sigma per axis.
func (b *belief) axis() (mean, sd r2.Vec) {
	w := b.weights()
	for i, h := range b.hyps {
		mean = r2.Add(mean, r2.Scale(w[i], h.axis()))
	}
	var v r2.Vec
	for i, h := range b.hyps {
		d := r2.Sub(h.axis(), mean)
		v.X += w[i] * (h.p.At(0, 0) + d.X*d.X)
		v.Y += w[i] * (h.p.At(1, 1) + d.Y*d.Y)
	}
	return mean, r2.Vec{X: math.Sqrt(v.X), Y: math.Sqrt(v.Y)}
}

// outside returns the probability that the star is outside focus now.
func (b *belief) outside() float64 {
	p := 0.0
	for i, w := range b.weights() {
		if b.hyps[i].side > 0 {
			p += w
		}
	}
	return p
}

// seenBoth returns the probability that both sides of focus were seen, each for
// at least n independent frames, since the mirror last moved.
func (b *belief) seenBoth(n float64) float64 {
	p := 0.0
	for i, w := range b.weights() {
		if s := b.hyps[i].seen; s[0] >= n && s[1] >= n {
			p += w
		}
	}
	return p
}

// seenHere returns the independent frames of this side since the mirror moved.
func (b *belief) seenHere() float64 {
	h := b.best()
	return h.seen[sideIndex(h.side)]
}

func (b *belief) seenThere() float64 {
	h := b.best()
	return h.seen[sideIndex(-h.side)]
}
