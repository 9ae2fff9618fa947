package estimate

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
)

// The chance of a false claim that is allowed, over all looks of a night.
const (
	alpha     = 0.001
	oddest    = 0.05 // most probability, together, of the hypotheses that would not claim
	sideDoubt = 3e-4 // most probability that the claim is false because of them
)

// LeastLooks is how many independent frames of a side of focus must be seen before that
// side counts as seen. Judgement.
const LeastLooks = 5

// confidenceFactor returns by how many one-sigma the estimate may be off with probability
// 1 - alpha at any time of a long look: the normal-mixture confidence sequence
// for a mean in two dimensions (Robbins, Ann. Math. Stat. 41, 1397, 1970; from
// memory), mixing scale a third of the tolerance:
//
//	c^2 = (1 + s^2/s0^2) (2 ln(1/alpha) + 2 ln(1 + s0^2/s^2))
func confidenceFactor(sd, tol float64) float64 {
	q := 9 * sd * sd / (tol * tol) // s^2/s0^2
	return math.Sqrt((1 + q) * (-2*math.Log(alpha) + 2*math.Log(1+1/q)))
}

// modelError returns the allowance for what the model itself may be wrong by, mm: the
// scale of the offset (2 % by the exact trace, and edges), and a floor for how
// well edges are found.
func (b *Bank) modelError(h *hypothesis, star r2.Vec) float64 {
	scale := 0.025 * r2.Norm(r2.Sub(star, h.axis()))
	apart := 0.0
	if h.seen[0] > 0 && h.seen[1] > 0 {
		apart = 0.03 * r2.Norm(r2.Sub(h.at[0], h.at[1]))
	}
	if b.OneSided {
		// The ring's edges are not found quite alike at different sizes: 3 % of
		// what the silhouette does to the offset no longer cancels.
		q := math.Hypot(h.x.silhouette, h.y.silhouette)
		for _, r := range h.samples {
			apart = math.Max(apart, 0.03*q*2*b.o.Telescope.FocalRatio()*r.radius/b.o.Telescope.FocalLength/b.o.offsetPerField())
		}
	}
	return scale + apart + 0.03*b.o.Tolerance
}

// claimSD returns the one-sigma of the axis point for a claim, mm: with what wanders too
// slowly for a longer look to average it out, and what the sides of focus disagree by.
func (b *Bank) claimSD(h *hypothesis) float64 {
	return math.Hypot(h.axisSD(), math.Sqrt(b.SagVariance()+b.Wander()*b.Wander()))
}

// Wander returns how far the axis point seems to wander while nobody touches it, mm,
// one-sigma per axis; 0 if it does not.
func (b *Bank) Wander() float64 { return math.Sqrt(b.slow.variance()) / b.o.offsetPerField() }

// bound returns how far the axis point may be from the target, mm, by h.
func (b *Bank) bound(h *hypothesis, star r2.Vec) float64 {
	sd := b.claimSD(h)
	return r2.Norm(h.axis()) + confidenceFactor(sd, b.o.Tolerance)*sd + b.modelError(h, star)
}

// UpperBound returns how far the axis point may be from the target, mm, >= 0: over a whole
// night the chance that it is ever farther is one in a thousand. It is the largest bound of
// any hypothesis with a probability above 3e-4. star is where the star is.
func (b *Bank) UpperBound(star r2.Vec) float64 {
	far := 0.0
	for i, w := range b.weights() {
		if w > sideDoubt {
			far = math.Max(far, b.bound(b.hyps[i], star))
		}
	}
	return far
}

// Proven reports whether the axis point is inside the tolerance, by measurements that
// agree, with both sides of focus seen since the mirror last moved, and one of them again.
// star is where the star is, mm.
func (b *Bank) Proven(star r2.Vec) bool {
	return b.consistent() && (b.OneSided || b.Compared()) && b.Inside(star)
}

// Inside reports whether the axis point is inside the tolerance, by what was seen of both
// sides of focus. Hypotheses that would not claim may together have a probability of 0.05;
// the probability that one of them is right and the axis point outside must be below 3e-4.
// star is where the star is, mm.
func (b *Bank) Inside(star r2.Vec) bool {
	odd, risk := 0.0, 0.0
	for i, w := range b.weights() {
		if h := b.hyps[i]; !b.seenEnough(h) || b.bound(h, star) >= b.o.Tolerance {
			odd += w
			risk += w * b.outsideOdds(h, star)
		}
	}
	return odd < oddest && risk < sideDoubt
}

// Contested reports whether doubt about the side of focus keeps a claim back: the likeliest
// hypothesis would claim, or others put the axis point elsewhere. star is where the star
// is, mm.
func (b *Bank) Contested(star r2.Vec) bool {
	h := b.best()
	return b.seenEnough(h) && b.bound(h, star) < b.o.Tolerance || b.apart(oddest)
}

// Torn reports whether hypotheses with a probability above 3e-4 together put the axis point
// so far from where the best has it that a longer look on this side will not settle it.
func (b *Bank) Torn() bool { return b.apart(sideDoubt) }

// apart reports whether hypotheses of more than a probability put the axis point more than
// half the tolerance from where the best has it.
func (b *Bank) apart(odds float64) bool {
	best := b.best().axis()
	return b.chance(func(h *hypothesis) bool { return r2.Norm(r2.Sub(h.axis(), best)) > 0.5*b.o.Tolerance }) > odds
}

// outsideOdds returns the probability that the axis point is outside the
// tolerance, by h: that of a circular normal distribution about its estimate.
func (b *Bank) outsideOdds(h *hypothesis, star r2.Vec) float64 {
	in := b.o.Tolerance - b.modelError(h, star) - r2.Norm(h.axis())
	if in <= 0 {
		return 1
	}
	z := in / b.claimSD(h)
	return math.Exp(-0.5 * z * z)
}

// twoDefocuses is how far apart two rings of one side must be to stand for both
// sides.
const twoDefocuses = 2

// seenEnough reports whether what was seen since the mirror moved can tell coma
// from the silhouette: both sides of focus, or, where the focuser cannot reach
// one, two defocuses of the other.
func (b *Bank) seenEnough(h *hypothesis) bool {
	return bothSeen(h.seen, LeastLooks) || b.OneSided && h.radiusRatio() >= twoDefocuses
}

// BestSeenEnough reports whether, in the likeliest hypothesis, what was seen since the
// mirror moved can tell coma from the silhouette.
func (b *Bank) BestSeenEnough() bool { return b.seenEnough(b.best()) }

// BoundAfter returns the bound, mm, that n > 0 independent frames on each side would give
// around a star of which only these are known.
func (b *Bank) BoundAfter(n float64) float64 {
	sd := math.Sqrt(b.noise.sd2()/(2*n)) / b.o.offsetPerField()
	return confidenceFactor(sd, b.o.Tolerance)*sd + 0.06*b.o.Tolerance
}

// FramesToProve returns how many more independent frames of one side would prove an axis
// point that seems to be size from the target, mm, with a star at star, mm; other is how
// many of the other side were or will be seen, have how many of this side were. It is
// +Inf if no number would do.
func (b *Bank) FramesToProve(star r2.Vec, size, other, have float64) float64 {
	mod := b.modelError(b.best(), star)
	slow := b.slow.variance() + b.SagVariance()*b.o.offsetPerField()*b.o.offsetPerField()
	for _, more := range [...]float64{0, 2, 4, 7, 10, 14, 20, 28, 40, 56, 80, 113, 160, 226, 320} {
		n := have + more
		if n < LeastLooks {
			continue
		}
		sd := math.Sqrt(b.noise.sd2()*(1/n+1/math.Max(other, 1))/4+slow) / b.o.offsetPerField()
		if size+confidenceFactor(sd, b.o.Tolerance)*sd+mod < 0.97*b.o.Tolerance {
			return more
		}
	}
	return math.Inf(1)
}

// spread is places that stand for a circular normal distribution of unit one-sigma: each
// for the same share of it, at the quantiles of its radius, turned by the golden angle.
var spread = func() (at [64]r2.Vec) {
	golden := math.Pi * (3 - math.Sqrt(5))
	for i := range at {
		outside := 1 - (float64(i)+0.5)/float64(len(at))
		radius := math.Sqrt(-2 * math.Log(outside)) // Rayleigh's distribution
		sin, cos := math.Sincos(golden * float64(i))
		at[i] = r2.Vec{X: radius * cos, Y: radius * sin}
	}
	return at
}()

// Exceeded returns how far the axis point is from the target, mm, >= 0, or farther with
// the given chance, 0 < chance < 1, over all hypotheses.
func (b *Bank) Exceeded(chance float64) float64 {
	type place struct{ far, weight float64 }
	var places []place
	for i, w := range b.weights() {
		h := b.hyps[i]
		sd := b.claimSD(h)
		for _, z := range spread {
			places = append(places, place{r2.Norm(r2.Add(h.axis(), r2.Scale(sd, z))), w / float64(len(spread))})
		}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Compare(b.far, a.far) })
	for _, p := range places {
		if chance -= p.weight; chance <= 0 {
			return p.far
		}
	}
	return 0
}
