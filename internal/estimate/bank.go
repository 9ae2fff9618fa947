// Package estimate holds what is believed of the telescope: where the mirror's axis point
// is and how surely, on which side of focus the star is, how restless the air is, and what
// each knob does. It takes in numbers and gives numbers: it knows no cue and no word.
//
// Lengths are mm on the sensor relative to the target, x right and y down, unless said
// otherwise.
package estimate

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// Instrument is a telescope and its camera as the filter needs them.
type Instrument struct {
	Telescope   optics.Telescope
	Pixel       float64 // side of a frame pixel, mm, > 0
	Tolerance   float64 // how far the axis point may be from the target, mm, > 0
	StarPerTurn float64 // how far a turn of a knob takes the star, as the thread has it, mm, > 0
}

// offsetPerField is the shadow's offset per mm of the star from the axis point, > 0.
func (o Instrument) offsetPerField() float64 { return o.Telescope.OffsetPerField() }

// airOffset returns the RMS of the shadow's offset, mm per axis, that air of
// Fried parameter r0 gives a single short exposure.
func (o Instrument) airOffset(r0 float64) float64 {
	return o.offsetPerField() * o.Telescope.AirComa(r0) / o.Telescope.ComaRMS(1)
}

// fried returns the Fried parameter, mm, of air that leans the shadow by sd mm:
// airOffset the other way round.
func (o Instrument) fried(sd float64) float64 {
	if sd <= 0 {
		return 0
	}
	return 100 * math.Pow(o.airOffset(100)/sd, 6.0/5)
}

// Reading is one measurement of the shadow's offset. Lengths are mm.
type Reading struct {
	Star   r2.Vec  // the ring's centre
	Radius float64 // the ring's, > 0
	Offset r2.Vec  // of the shadow from the ring's centre
	Light  r2.Vec  // the offset's one-sigma from the light alone, > 0
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
	n     int // measurements so far

	OneSided bool // the focuser cannot reach the other side
	Holds    bool // the focuser: an earlier night saw it, and nothing since speaks against it

	// How well the measurements are predicted: running means of the NIS, and of the
	// innovation in its own one-sigma.
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
	q := 1.5 + 0.004*t.Aperture + 0.7*t.Obstruction()*t.Aperture/(4*t.FocalRatio())
	b := &Bank{o: o, noise: newNoise(o), slow: newSlow(), meanNIS: 2}
	for _, side := range []float64{1, -1} {
		h := &hypothesis{filter: filter{side: side}}
		h.inflate(axisSD, q)
		b.hyps = append(b.hyps, h)
	}
	return b
}

// response returns how the offset answers on a side of focus.
func (b *Bank) response(side, radius float64) response {
	t := b.o.Telescope
	zf := side * 2 * t.FocalRatio() * radius / t.FocalLength
	walk := t.SecondaryAt() / t.FocalLength // of the silhouette, mm in the pupil per mm of the star
	return response{t.OffsetPerField() + 2*zf*walk, -zf, -t.OffsetPerField() - zf*walk}
}

// innovation returns by how much an offset is another than f predicts, mm, and the
// variance per axis of the prediction, mm^2.
func (b *Bank) innovation(f filter, r Reading) (nu, variance r2.Vec) {
	g := b.response(f.side, r.Radius)
	x, vx := f.x.predicted(g, r.Star.X)
	y, vy := f.y.predicted(g, r.Star.Y)
	return r2.Sub(r.Offset, r2.Vec{X: x, Y: y}), r2.Vec{X: vx, Y: vy}
}

// nis returns the normalised innovation squared, of two degrees of freedom.
func nis(nu, variance r2.Vec) float64 {
	return nu.X*nu.X/variance.X + nu.Y*nu.Y/variance.Y
}

// Measure takes in one reading.
func (b *Bank) Measure(r Reading) {
	nu, predicted := b.innovation(b.best().filter, r)
	if nis(nu, r2.Add(predicted, b.noise.variance(r.Light))) < 25 {
		b.noise.add(nu)
	}
	b.watch(nu, r2.Add(predicted, b.noise.variance(r.Light)))
	top := math.Inf(-1)
	for _, h := range b.hyps {
		b.addToVisit(h, r)
		b.update(h, r)
		top = math.Max(top, h.logW)
	}
	for _, h := range b.hyps {
		h.logW -= top
	}
	b.prune()
	b.n++
}

// update is a hypothesis's Kalman step. The noise is what the frames scatter by, inflated
// because neighbours share the same air; a measurement far out counts less, as Huber
// weights have it.
func (b *Bank) update(h *hypothesis, r Reading) {
	nu, predicted := b.innovation(h.filter, r)
	inflation := b.noise.varianceInflation()
	scatter := b.noise.variance(r.Light)
	v := r2.Scale(inflation, scatter)
	if far := nis(nu, r2.Add(predicted, scatter)); far > 9 {
		v = r2.Scale(far/9, v)
	}
	g := b.response(h.side, r.Radius)
	squareX, vx := h.x.update(g, nu.X, v.X)
	squareY, vy := h.y.update(g, nu.Y, v.Y)
	h.logW -= 0.5 * (math.Min(squareX+squareY, 25) + math.Log(vx*vy))
	h.sample(r.Radius, 1/inflation, r.Star)
}

// Shift moves the axis point by d, mm, in every hypothesis, and widens it by a one-sigma
// of sd per axis, mm, >= 0. Where it moves, a visit to a side of focus ends.
func (b *Bank) Shift(d r2.Vec, sd float64) {
	if d != (r2.Vec{}) {
		b.closeVisit()
	}
	for _, h := range b.hyps {
		h.x.axis += d.X
		h.y.axis += d.Y
	}
	b.inflate(sd, 0)
}

// InflateSilhouette widens the place of the silhouette in the pupil by a one-sigma of sd
// per axis, mm, >= 0.
func (b *Bank) InflateSilhouette(sd float64) { b.inflate(0, sd) }

func (b *Bank) inflate(axis, silhouette float64) {
	for _, h := range b.hyps {
		h.inflate(axis, silhouette)
		if h.visit != nil {
			h.visit.inflate(axis, silhouette)
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

// prune drops what has become improbable, and keeps eight at most.
func (b *Bank) prune() {
	const improbable, most = 20, 8
	best := b.best().logW
	for floor := improbable + 0.0; ; floor *= 0.8 {
		b.hyps = slices.DeleteFunc(b.hyps, func(h *hypothesis) bool { return h.logW < best-floor })
		if len(b.hyps) <= most || floor < 1 {
			return
		}
	}
}

func (b *Bank) best() *hypothesis {
	return slices.MaxFunc(b.hyps, func(g, h *hypothesis) int { return cmp.Compare(g.logW, h.logW) })
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
func (b *Bank) Interrupt() { b.noise.recent = b.noise.recent[:0] }

// VarianceInflation returns how many frames tell as much as one independent one, >= 1:
// (1 + r) / (1 - r) for frames whose neighbours correlate by r (Priestley, Spectral
// Analysis and Time Series, 1981; from memory).
func (b *Bank) VarianceInflation() float64 { return b.noise.varianceInflation() }

// Fried returns the Fried parameter of the air, mm, >= 0, by the scatter of the offsets
// (optics.Telescope.AirComa the other way round).
func (b *Bank) Fried() float64 { return b.o.fried(math.Sqrt(b.noise.sd2())) }

// SilhouetteSD returns the one-sigma of the silhouette's place in the pupil along x, mm,
// in the likeliest hypothesis.
func (b *Bank) SilhouetteSD() float64 { return math.Sqrt(b.best().x.silhouetteVar) }

// RadiusRatio returns the ratio of the largest to the smallest ring that was well seen
// on one side of focus, >= 1, in the likeliest hypothesis.
func (b *Bank) RadiusRatio() float64 { return b.best().radiusRatio() }

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
		v.X += w[i] * (h.x.axisVar + d.X*d.X)
		v.Y += w[i] * (h.y.axisVar + d.Y*d.Y)
	}
	return mean, r2.Vec{X: math.Sqrt(v.X), Y: math.Sqrt(v.Y)}
}

// chance returns the probability of the hypotheses of which something is true.
func (b *Bank) chance(is func(*hypothesis) bool) (p float64) {
	for i, w := range b.weights() {
		if is(b.hyps[i]) {
			p += w
		}
	}
	return p
}

// OutsideChance returns the probability, 0 to 1, that the star is outside focus now.
func (b *Bank) OutsideChance() float64 {
	return b.chance(func(h *hypothesis) bool { return h.side > 0 })
}

// SeenBoth returns the probability, 0 to 1, that both sides of focus were seen, each for
// at least n independent frames, since the mirror last moved.
func (b *Bank) SeenBoth(n float64) float64 {
	return b.chance(func(h *hypothesis) bool { return bothSeen(h.seen, n) })
}

// ReachesBoth reports whether the focuser has shown both sides of focus tonight,
// whether it was seen to go through or not: with a probability above 0.9999.
func (b *Bank) ReachesBoth() bool {
	return b.chance(func(h *hypothesis) bool { return bothSeen(h.ever, LeastLooks) }) > 0.9999
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

// The running means of the innovation keep this weight of what was before. The mean of
// white innovations then has a variance of (1-keep)/(1+keep) per axis, rounded here; that of
// correlated ones more, by varianceInflation.
const (
	keep               = 0.88
	innovationVariance = 0.064
)

// watch keeps the running means of how well the best hypothesis predicts, from an
// innovation, mm, and its variance per axis.
func (b *Bank) watch(nu, variance r2.Vec) {
	z := r2.Vec{X: nu.X / math.Sqrt(variance.X), Y: nu.Y / math.Sqrt(variance.Y)}
	b.meanNIS = keep*b.meanNIS + (1-keep)*math.Min(r2.Norm2(z), 60)
	b.meanInnovation = r2.Add(r2.Scale(keep, b.meanInnovation), r2.Scale(1-keep, z))
	b.slow.add(z, nu, b.noise.sd2(), b.noise.blockVarianceInflation())
}

// Diverged reports whether the measurements have left what is believed: something
// moved that was not seen. It is so where the running mean of the NIS, 2 when all is well,
// is above 10, or the running mean of the innovation beyond five of its one-sigma.
func (b *Bank) Diverged() bool { return b.meanNIS > 10 || b.innovationSquare() > 25 }

// consistent reports whether they agree so well that a claim may stand on them: a mean
// NIS below 5, and a mean innovation within the square root of 11 of its one-sigma.
func (b *Bank) consistent() bool { return b.meanNIS < 5 && b.innovationSquare() < 11 }

// innovationSquare is the square of the mean innovation in its own one-sigma.
func (b *Bank) innovationSquare() float64 {
	return r2.Norm2(b.meanInnovation) / (innovationVariance * b.noise.varianceInflation())
}

// ResetGate begins anew what Diverged goes by, with a mean NIS of 2 and no innovation.
func (b *Bank) ResetGate() { b.meanNIS, b.meanInnovation = 2, r2.Vec{} }
