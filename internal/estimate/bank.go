// Package estimate holds what is believed of the telescope: where the mirror's axis point
// is and how surely, on which side of focus the star is, how restless the air is, and what
// each knob does. It takes in numbers and gives numbers: it knows no cue and no word.
//
// Lengths are mm on the sensor relative to the target, x right and y down, unless said
// otherwise.
package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
)

// filter is a Kalman filter over x = (ax, ay, qx, qy), the axis point relative to the
// target, mm on the sensor, and q, the secondary's own displacement in the pupil
// together with the tube axis's, mm; p is its covariance. With the side of focus taken
// for granted the offset is linear in x (optics.Telescope.Offset):
//
//	d = -K (s - a) - (z/f) (q - m (2a - s)),  z = side * 2 F R
type filter struct {
	side float64 // +1 outside focus, -1 inside
	x    *mat.VecDense
	p    *mat.SymDense
}

func (f filter) copy() filter {
	p := mat.NewSymDense(4, nil)
	p.CopySym(f.p)
	return filter{side: f.side, x: mat.VecDenseCopyOf(f.x), p: p}
}

// hypothesis is one account of which side of focus the star is on now, with the
// estimate that goes with it.
type hypothesis struct {
	filter
	logW    float64         // log-evidence, relative
	seen    [2]float64      // independent frames of each side since the mirror moved
	ever    [2]float64      // and since the night began
	at      [2]r2.Vec       // mean star position of what was seen, per side
	samples []defocusSample // the ring sizes that were seen

	visit *visit // to this side, or nil
}

// defocusSample is what was seen at one ring size on one side of focus.
type defocusSample struct {
	side, radius float64
	n            float64 // independent frames
}

// sample adds n independent frames to what was seen at this ring size, mm.
func (h *hypothesis) sample(radius, n float64) {
	for i := range h.samples {
		if r := &h.samples[i]; r.side == h.side && math.Abs(radius-r.radius) < 0.1*r.radius {
			r.n += n
			return
		}
	}
	h.samples = append(h.samples, defocusSample{h.side, radius, n})
}

// radiusRatio returns the ratio of the largest to the smallest ring that was well seen
// on one side of focus, >= 1.
func (h *hypothesis) radiusRatio() float64 {
	most := 1.0
	for _, a := range h.samples {
		for _, b := range h.samples {
			if a.side == b.side && a.n >= LeastLooks && b.n >= LeastLooks {
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

// Bank is a filter bank (a multiple-model Kalman filter; Magill, IEEE Trans. Autom.
// Control 10, 434, 1965; from memory): one hypothesis for each likely history of the side
// of focus. Neither side is preferred at the start; each racking through focus leaves a
// little doubt whether it went through. NewBank makes one. It is not safe for concurrent use.
type Bank struct {
	o     Instrument
	hyps  []*hypothesis
	noise noise
	slow  slow
	sides sides
	work  workspace
	n     int // measurements so far

	OneSided bool // the focuser cannot reach the other side
	Holds    bool // the focuser: an earlier night saw it, and nothing since speaks against it

	// How well the measurements are foretold: running means of the innovation
	// squared, in its own one-sigma, and of the innovation itself.
	meanNIS        float64
	meanInnovation r2.Vec
}

// NewBank starts with the axis point anywhere within 4 mm, one-sigma per axis, and the
// silhouette displaced as secondaries are: by 1.5 mm and 0.004 of the aperture
// (judgement), and 0.7 of the usual offset away from the focuser, the secondary's width
// over four times the focal ratio.
func NewBank(o Instrument) *Bank {
	const axisSD = 4
	t := o.Telescope
	q := 1.5 + 0.004*t.Aperture + 0.7*t.Obstruction()*t.Aperture/(4*o.FocalRatio)
	b := &Bank{work: newWorkspace(), o: o, noise: newNoise(o), slow: newSlow(), meanNIS: 2}
	for _, side := range []float64{1, -1} {
		h := &hypothesis{filter: filter{side, mat.NewVecDense(4, nil), mat.NewSymDense(4, nil)}}
		for i := range 2 {
			h.p.SetSym(i, i, axisSD*axisSD)
			h.p.SetSym(i+2, i+2, q*q)
		}
		b.hyps = append(b.hyps, h)
	}
	return b
}

// gains returns how the offset answers to a and to q.
func (b *Bank) gains(side, radius float64) (toAxis, toQ, toStar float64) {
	zf := side * 2 * b.o.FocalRatio * radius / b.o.FocalLength
	return b.o.OffsetPerField + 2*zf*b.o.silhouetteWalk, -zf, -b.o.OffsetPerField - zf*b.o.silhouetteWalk
}

// predict returns the offset that f expects.
func (b *Bank) predict(f filter, star r2.Vec, radius float64) r2.Vec {
	ga, gq, gs := b.gains(f.side, radius)
	return r2.Vec{
		X: ga*f.x.AtVec(0) + gq*f.x.AtVec(2) + gs*star.X,
		Y: ga*f.x.AtVec(1) + gq*f.x.AtVec(3) + gs*star.Y,
	}
}

// innovation returns by how much an offset is another than f expects, mm, and the
// variance per axis of what it expects, mm^2.
func (b *Bank) innovation(f filter, star r2.Vec, radius float64, offset r2.Vec) (nu, v r2.Vec) {
	ga, gq, _ := b.gains(f.side, radius)
	of := func(i int) float64 {
		return ga*ga*f.p.At(i, i) + 2*ga*gq*f.p.At(i, i+2) + gq*gq*f.p.At(i+2, i+2)
	}
	return r2.Sub(offset, b.predict(f, star, radius)), r2.Vec{X: of(0), Y: of(1)}
}

// Measure takes in one offset of the shadow from the ring's centre, mm, with its one-sigma
// per axis from the light alone, mm, > 0; star is the ring's centre and radius the ring's,
// > 0. It reports whether the measurement fits what was believed: an NIS (the innovation
// squared over its variance, two degrees of freedom) below 25 in the likeliest hypothesis.
func (b *Bank) Measure(star r2.Vec, radius float64, offset, light r2.Vec) bool {
	best := b.best()
	fits := b.nis(best, star, radius, offset, light) < 25
	b.noise.add(r2.Sub(offset, b.predict(best.filter, star, radius)), light, fits)
	b.watch(best, star, radius, offset, light)
	top := math.Inf(-1)
	for _, h := range b.hyps {
		b.addToVisit(h, star, radius, offset, light)
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

// Shift moves the axis point by d, mm, in every hypothesis, and widens it by a one-sigma
// of sd per axis, mm, >= 0. Where it moves, a visit to a side of focus ends.
func (b *Bank) Shift(d r2.Vec, sd float64) {
	if d != (r2.Vec{}) {
		b.closeVisit()
	}
	for _, h := range b.hyps {
		h.x.SetVec(0, h.x.AtVec(0)+d.X)
		h.x.SetVec(1, h.x.AtVec(1)+d.Y)
	}
	b.inflate(0, sd)
}

// InflateSilhouette widens the place of the silhouette in the pupil by a one-sigma of sd
// per axis, mm, >= 0.
func (b *Bank) InflateSilhouette(sd float64) { b.inflate(2, sd) }

// inflate widens elements i and i+1 of the state by a one-sigma of sd, mm.
func (b *Bank) inflate(i int, sd float64) {
	widen := func(p *mat.SymDense) {
		p.SetSym(i, i, p.At(i, i)+sd*sd)
		p.SetSym(i+1, i+1, p.At(i+1, i+1)+sd*sd)
	}
	for _, h := range b.hyps {
		widen(h.p)
		if h.visit != nil {
			widen(h.visit.p)
		}
	}
}

// MirrorMoved forgets which sides of focus were seen: the mirror has moved since.
func (b *Bank) MirrorMoved() {
	b.closeVisit()
	for _, h := range b.hyps {
		h.seen, h.samples = [2]float64{}, nil
	}
}

// BranchOnFocusSide splits every hypothesis: the focuser went through focus with the given
// probability, 0 < through < 1, or came back on the same side. Eight hypotheses are kept
// at most.
func (b *Bank) BranchOnFocusSide(through float64) {
	b.closeVisit()
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
	c.filter = h.filter.copy()
	c.samples = slices.Clone(h.samples)
	c.visit = h.visit.copy()
	return &c
}

// prune drops what has become improbable, and keeps eight at most.
func (b *Bank) prune() {
	const improbable, most = 20, 8
	best := b.best().logW
	for floor := improbable + 0.0; ; floor *= 0.8 {
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

func (b *Bank) best() *hypothesis {
	best := b.hyps[0]
	for _, h := range b.hyps[1:] {
		if h.logW > best.logW {
			best = h
		}
	}
	return best
}

// weights returns the probabilities of the hypotheses.
func (b *Bank) weights() []float64 {
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

// Frames returns how many measurements were taken in.
func (b *Bank) Frames() int { return b.n }

// Hypotheses returns how many hypotheses are kept, 1 to 8.
func (b *Bank) Hypotheses() int { return len(b.hyps) }

// Refit takes another telescope for the one that was assumed; what was estimated stays, so
// the size of a pixel must be the same.
func (b *Bank) Refit(o Instrument) { b.o = o }

// Interrupt says that the next measurement does not follow on the last: frames were
// left out between.
func (b *Bank) Interrupt() { b.noise.interrupt() }

// VarianceInflation returns how many frames tell as much as one independent one, >= 1:
// (1 + r) / (1 - r) for frames whose neighbours correlate by r (Priestley, Spectral
// Analysis and Time Series, 1981; from memory).
func (b *Bank) VarianceInflation() float64 { return b.noise.varianceInflation() }

// Fried returns the Fried parameter of the air, mm, >= 0, by the scatter of the offsets
// (optics.Telescope.AirComa the other way round).
func (b *Bank) Fried() float64 { return b.o.fried(math.Sqrt(b.noise.sd2())) }

// SilhouetteSD returns the one-sigma of the silhouette's place in the pupil along x, mm,
// in the likeliest hypothesis.
func (b *Bank) SilhouetteSD() float64 { return math.Sqrt(b.best().p.At(2, 2)) }

// RadiusRatio returns the ratio of the largest to the smallest ring that was well seen
// on one side of focus, >= 1, in the likeliest hypothesis.
func (b *Bank) RadiusRatio() float64 { return b.best().radiusRatio() }

func (h *hypothesis) axis() r2.Vec { return r2.Vec{X: h.x.AtVec(0), Y: h.x.AtVec(1)} }

// axisSD returns the largest one-sigma of the axis point in any direction, mm.
func (h *hypothesis) axisSD() float64 {
	a, d, c := h.p.At(0, 0), h.p.At(1, 1), h.p.At(0, 1)
	return math.Sqrt((a+d)/2 + math.Hypot((a-d)/2, c))
}

// Axis returns the mean axis point relative to the target over all hypotheses, mm, and its
// one-sigma per axis: with the spread between them, as of a mixture of normal
// distributions.
func (b *Bank) Axis() (mean, sd r2.Vec) {
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

// OutsideChance returns the probability, 0 to 1, that the star is outside focus now.
func (b *Bank) OutsideChance() float64 {
	p := 0.0
	for i, w := range b.weights() {
		if b.hyps[i].side > 0 {
			p += w
		}
	}
	return p
}

// SeenBoth returns the probability, 0 to 1, that both sides of focus were seen, each for
// at least n independent frames, since the mirror last moved.
func (b *Bank) SeenBoth(n float64) float64 {
	p := 0.0
	for i, w := range b.weights() {
		if s := b.hyps[i].seen; s[0] >= n && s[1] >= n {
			p += w
		}
	}
	return p
}

// ReachesBoth reports whether the focuser has shown both sides of focus tonight,
// whether it was seen to go through or not: with a probability above 0.9999.
func (b *Bank) ReachesBoth() bool {
	p := 0.0
	for i, w := range b.weights() {
		if e := b.hyps[i].ever; e[0] >= LeastLooks && e[1] >= LeastLooks {
			p += w
		}
	}
	return p > 0.9999
}

// SeenHere returns how many independent frames of this side of focus were seen since the
// mirror moved, in the likeliest hypothesis.
func (b *Bank) SeenHere() float64 {
	h := b.best()
	return h.seen[sideIndex(h.side)]
}

// SeenThere returns the same of the other side.
func (b *Bank) SeenThere() float64 {
	h := b.best()
	return h.seen[sideIndex(-h.side)]
}
