package estimate

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
)

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
