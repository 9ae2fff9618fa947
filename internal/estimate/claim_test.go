package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The bound holds under repeated looking: of many long looks at nothing but
// noise, hardly any is ever outside it, though each is checked at every frame. A
// bound for a single look (3.7 one-sigma) fails that test by far.
func TestReachHoldsAtEveryLook(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	const walks, frames, tol, sd = 4000, 400, 1.0, 0.5
	ever, single := 0, 0
	for range walks {
		var x, y float64
		out, fixed := false, false
		for n := 1; n <= frames; n++ {
			x += sd * r.NormFloat64()
			y += sd * r.NormFloat64()
			s := sd / math.Sqrt(float64(n))
			off := math.Hypot(x, y) / float64(n)
			out = out || off > confidenceFactor(s, tol)*s
			fixed = fixed || off > math.Sqrt(-2*math.Log(alpha))*s
		}
		if out {
			ever++
		}
		if fixed {
			single++
		}
	}
	if limit := int(3 * alpha * walks); ever > limit {
		t.Errorf("%d of %d looks left the bound at some time, at most %d may", ever, walks, limit)
	}
	if single < int(4*alpha*walks) {
		t.Errorf("the bound for one look was left only %d times: this test shows nothing", single)
	}
}
