package estimate

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// keep is the weight of what was before in the running means. The mean of white
// innovations then has a variance of (1-keep)/(1+keep) per axis, rounded here; that of
// correlated ones more, by varianceInflation.
const (
	keep               = 0.88
	innovationVariance = 0.064
)

// watch keeps the running means of how well the best hypothesis predicts.
func (b *Bank) watch(h *hypothesis, star r2.Vec, radius float64, offset, light r2.Vec) {
	nu, v := b.innovation(h.filter, star, radius, offset)
	v = r2.Add(v, b.noise.variance(light))
	z := r2.Vec{X: nu.X / math.Sqrt(v.X), Y: nu.Y / math.Sqrt(v.Y)}
	b.meanNIS = keep*b.meanNIS + (1-keep)*math.Min(r2.Norm2(z), 60)
	b.meanInnovation = r2.Add(r2.Scale(keep, b.meanInnovation), r2.Scale(1-keep, z))
	b.slow.add(z, nu, b.noise.sd2(), b.noise.blockVarianceInflation())
}

// Diverged reports whether the measurements have left what is believed: something
// moved that was not seen. It is so where the running mean of the NIS, 2 when all is well,
// is above 10, or the running mean of the innovation beyond five of its one-sigma.
func (b *Bank) Diverged() bool {
	v := innovationVariance * b.noise.varianceInflation()
	return b.meanNIS > 10 || r2.Norm2(b.meanInnovation) > 25*v
}

// consistent reports whether they agree so well that a claim may stand on them: a mean
// NIS below 5, and a mean innovation within the square root of 11 of its one-sigma.
func (b *Bank) consistent() bool {
	v := innovationVariance * b.noise.varianceInflation()
	return b.meanNIS < 5 && r2.Norm2(b.meanInnovation) < 11*v
}

// ResetGate begins the account of Diverged anew, with a mean NIS of 2 and no innovation.
func (b *Bank) ResetGate() { b.meanNIS, b.meanInnovation = 2, r2.Vec{} }

// nis returns the normalised innovation squared (2 degrees of freedom) of one
// measurement, against what one frame may scatter.
func (b *Bank) nis(h *hypothesis, star r2.Vec, radius float64, offset, light r2.Vec) float64 {
	nu, v := b.innovation(h.filter, star, radius, offset)
	v = r2.Add(v, b.noise.variance(light))
	return nu.X*nu.X/v.X + nu.Y*nu.Y/v.Y
}
