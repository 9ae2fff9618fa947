package estimate

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// A focuser that sags, or a sensor that tilts, displaces the star and the axis point
// together whenever it is racked through focus; the target stays. No frame shows it.
// But then a side that is seen again, with the mirror untouched since, is not as what
// was seen before predicts. So a claim needs such a visit, unless an earlier night has
// shown that this focuser holds.
//
// What is the same on every passage looks like a secondary that is displaced, and
// cannot be seen this way: nothing that the star shows tells the two apart.
const (
	visitLooks = 24   // the independent frames by which a visit is judged
	leastVisit = 4    // and those of a visit that was broken off
	agrees     = 2    // one-sigma up to which a visit agrees
	odd        = 3    // from which it counts against a claim
	disagrees  = 4    // from which it is said that the sides do not agree
	comparable = 0.5  // tolerances: what is predicted less well than this shows no disagreement
	closeSD    = 0.28 // tolerances, one-sigma: one visit that agrees so closely is enough
	mostSD     = 0.6  // one that is less sure than this shows no agreement at all
	// mostInflation is how much more than neighbouring frames say slow air may count for in
	// a visit: judgement. Of a night's first frames the slow part is hardly known.
	mostInflation = 2.5
	mostVisits    = 4 // after so many that do not agree a further one tells no more
)

// visit is another look at a side of focus, from the racking that led to it: the
// estimate as it was then, and how far the frames since are from what it predicts.
type visit struct {
	filter
	sum r2.Vec  // of offset less what was predicted, mm
	n   float64 // frames
	v   float64 // variance of what is predicted, mm^2 per axis, the largest
	sd2 float64 // of one frame

	touched bool // the mirror was moved since: a visit that disagrees says nothing
}

// Revisit begins a visit in every hypothesis in which this side was seen before. It is
// called when a racking has ended.
func (b *Bank) Revisit() {
	for _, h := range b.hyps {
		if i := sideIndex(h.side); h.ever[i] >= LeastLooks {
			h.visit = &visit{filter: h.filter, touched: h.seen[i] < LeastLooks}
		}
	}
}

// addToVisit takes in a frame as long as the visit is young.
func (b *Bank) addToVisit(h *hypothesis, r Reading) {
	v := h.visit
	if v == nil || v.n >= visitLooks*b.noise.varianceInflation() {
		return
	}
	nu, predicted := b.innovation(v.filter, r)
	v.sum = r2.Add(v.sum, nu)
	v.n++
	frame := b.noise.variance(r.Light)
	v.sd2 = math.Max(frame.X, frame.Y)
	wrong := b.o.offsetPerField() * b.modelError(h, r.Star) / 2 // what the model leaves open is a bound, not a one-sigma
	v.v = max(v.v, predicted.X, predicted.Y, wrong*wrong)
}

// differs returns by how much the axis point seems another than before the visit,
// mm, and the one-sigma per axis of that; 0 where too few frames were seen.
func (b *Bank) differs(v *visit) (d r2.Vec, sd float64) {
	if v == nil || v.n < leastVisit*b.noise.varianceInflation() {
		return d, 0
	}
	k := b.o.offsetPerField()
	inflation := math.Min(b.noise.blockVarianceInflation(), mostInflation*b.noise.varianceInflation())
	return r2.Scale(1/(v.n*k), v.sum), math.Sqrt(v.v+v.sd2*inflation/v.n) / k
}

// sides is how well the visits to the two sides of focus agree.
type sides struct {
	visits float64 // that were judged
	agreed float64 // of these
	shown  float64 // what those show: 1 is enough for a claim
	square float64 // sum of half the squares of how far they differed, mm^2 per axis
	most   float64 // by how much one of them differed, one-sigma
}

// visits returns how well the visits agree, with the one under way as it is in the
// hypothesis that it contradicts least.
func (b *Bank) visits() sides {
	s := b.sides
	least := math.Inf(1)
	var found r2.Vec
	var sd float64
	touched := false
	for i, w := range b.weights() {
		if w < oddest {
			continue
		}
		d, sigma := b.differs(b.hyps[i].visit)
		if sigma == 0 {
			return s
		}
		if z := r2.Norm(d) / sigma; z < least {
			least, found, sd, touched = z, d, sigma, b.hyps[i].visit.touched
		}
	}
	switch {
	case least < agrees && sd < mostSD*b.o.Tolerance:
		s.agreed++
		s.shown += math.Min(1, closeSD*closeSD*b.o.Tolerance*b.o.Tolerance/(sd*sd))
	case touched, sd > comparable*b.o.Tolerance && least < disagrees, least < odd && sd > mostSD*b.o.Tolerance:
		return s
	}
	s.visits++
	s.square += r2.Norm2(found) / 4
	s.most = math.Max(s.most, least)
	return s
}

// Compared reports whether a side of focus was seen again, so that a focuser that sags
// would have shown it, or whether the focuser is known to hold.
func (b *Bank) Compared() bool {
	s := b.visits()
	return b.Holds || s.shown > 0.99 && 2*s.agreed > s.visits
}

// Disagree reports whether sides of focus that were seen again were not as before.
func (b *Bank) Disagree() bool {
	s := b.visits()
	return !b.Holds && s.visits > 0 && 2*s.agreed <= s.visits
}

// Visiting reports whether a visit is under way that more frames make more of.
func (b *Bank) Visiting() bool {
	v := b.best().visit
	return v != nil && v.n < visitLooks*b.noise.varianceInflation()
}

// MoreVisits reports whether a further visit may still tell something: after four it does not.
func (b *Bank) MoreVisits() bool { return b.visits().visits < mostVisits }

// SidesDiffer reports whether a side of focus that was seen again was so different, by four
// one-sigma, that it is worth a word.
func (b *Bank) SidesDiffer() bool { return b.visits().most >= disagrees }

// FocuserHolds reports whether the focuser is known to hold, from an earlier night or
// by this night's visits.
func (b *Bank) FocuserHolds() bool {
	return b.Holds || b.Compared() && b.visits().most < odd
}

// closeVisit ends the visit under way and counts it.
func (b *Bank) closeVisit() {
	b.sides = b.visits()
	b.Holds = b.Holds && b.sides.most < odd
	for _, h := range b.hyps {
		h.visit = nil
	}
}

// SagVariance returns the variance of the axis point, mm^2 per axis, by which the two sides
// of focus do not agree; 0 if they do. Of each side the last visit counts most.
func (b *Bank) SagVariance() float64 {
	s := b.visits()
	if s.most < odd {
		return 0
	}
	return s.square / s.visits / 2
}

// Sags reports whether that is so much that more visits tell more than a longer look.
func (b *Bank) Sags() bool {
	least := 0.15 * b.o.Tolerance
	return !b.OneSided && b.SagVariance() > least*least && b.visits().visits < mostVisits
}
