package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// The chance of a false claim that is allowed, over all looks of a night.
const (
	alpha      = 0.001
	oddest     = 0.05 // probability of all accounts that would not claim
	sideDoubt  = 3e-4 // probability of a false claim by them
	leastLooks = 5    // independent frames on each side
)

// reach returns by how many one-sigma the estimate may be off with probability
// 1 - alpha at any time of a long look: the normal-mixture confidence sequence
// for a mean in two dimensions (Robbins, Ann. Math. Stat. 41, 1397, 1970; from
// memory), mixing scale a third of the tolerance:
//
//	c^2 = (1 + s^2/s0^2) (2 ln(1/alpha) + 2 ln(1 + s0^2/s^2))
func reach(sd, tol float64) float64 {
	q := 9 * sd * sd / (tol * tol) // s^2/s0^2
	return math.Sqrt((1 + q) * (-2*math.Log(alpha) + 2*math.Log(1+1/q)))
}

// model returns the allowance for what the model itself may be wrong by, mm: the
// scale of the offset (2 % by the exact trace, and edges), and a floor for how
// well edges are found.
func (b *belief) model(h *hypothesis, star r2.Vec) float64 {
	scale := 0.025 * r2.Norm(r2.Sub(star, h.axis()))
	apart := 0.0
	if h.seen[0] > 0 && h.seen[1] > 0 {
		apart = 0.03 * r2.Norm(r2.Sub(h.at[0], h.at[1]))
	}
	if b.oneSided {
		// The ring's edges are not found quite alike at different sizes: 3 % of
		// what the silhouette does to the offset no longer cancels.
		q := math.Hypot(h.x.AtVec(2), h.x.AtVec(3))
		for _, r := range h.rung {
			apart = math.Max(apart, 0.03*q*2*b.o.ratio*r.radius/b.o.f/b.o.k)
		}
	}
	return scale + apart + 0.03*b.o.tol
}

// bound returns how far the axis point may be from the target, mm, by h.
func (b *belief) bound(h *hypothesis, star r2.Vec) float64 {
	sd := h.axisSD()
	return r2.Norm(h.axis()) + reach(sd, b.o.tol)*sd + b.model(h, star)
}

// worst returns the largest bound of any hypothesis worth a thought.
func (b *belief) worst(star r2.Vec) float64 {
	far := 0.0
	for i, w := range b.weights() {
		if w > sideDoubt {
			far = math.Max(far, b.bound(b.hyps[i], star))
		}
	}
	return far
}

// proven reports whether the axis point is inside the tolerance, with both sides
// of focus seen since the mirror last moved.
func (b *belief) proven(star r2.Vec) bool {
	if !b.sound() {
		return false
	}
	odd, risk := 0.0, 0.0
	for i, w := range b.weights() {
		if h := b.hyps[i]; !b.seenEnough(h) || b.bound(h, star) >= b.o.tol {
			odd += w
			risk += w * b.astrayOdds(h, star)
		}
	}
	return odd < oddest && risk < sideDoubt
}

// astrayOdds returns the probability that the axis point is outside the
// tolerance, by h: that of a circular normal distribution about its estimate.
func (b *belief) astrayOdds(h *hypothesis, star r2.Vec) float64 {
	in := b.o.tol - b.model(h, star) - r2.Norm(h.axis())
	if in <= 0 {
		return 1
	}
	z := in / h.axisSD()
	return math.Exp(-0.5 * z * z)
}

// twoDefocuses is how far apart two rings of one side must be to stand for both
// sides.
const twoDefocuses = 2

// seenEnough reports whether what was seen since the mirror moved can tell coma
// from the silhouette: both sides of focus, or, where the focuser cannot reach
// one, two defocuses of the other.
func (b *belief) seenEnough(h *hypothesis) bool {
	if h.seen[0] >= leastLooks && h.seen[1] >= leastLooks {
		return true
	}
	return b.oneSided && h.spread() >= twoDefocuses
}

// within returns the bound, mm, that n independent frames on each side would give
// around a star of which only these are known.
func (b *belief) within(n float64) float64 {
	sd := math.Sqrt(b.noise.sd2()/(2*n)) / b.o.k
	return reach(sd, b.o.tol)*sd + 0.06*b.o.tol
}
