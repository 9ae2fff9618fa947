package day

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// Of all ways to share a way out among three screws, which differ by turning the three
// together, the plan takes the one with the least turning in which none is backed off too
// far: all of them are tried here, a thousandth of a turn apart.
func TestPlanTurnsLeast(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 200 {
		u := answers(rng.Float64()*7, rng.IntN(2) == 0)
		r := newResponse(25)
		for range 6 {
			for k := range 3 {
				r.learn(k, 0.125, r2.Scale(0.125, u[k]), 0.01, false)
			}
		}
		on := step{screws: r, limits: limits{tighten: 0.5, loosen: 0.2, back: 0.2, on: 50}, nudge: 0.15}
		for k := range on.turned {
			on.turned[k] = -0.1 + 0.4*rng.Float64()
		}
		need := r2.Vec{X: 20 * rng.NormFloat64(), Y: 20 * rng.NormFloat64()}
		m, ok, open := on.solve(need)
		if !ok || !open {
			t.Fatalf("no way out for %v, turned %v", need, on.turned)
		}
		for k := range u {
			u[k], _ = r.of(k)
		}
		det := r2.Cross(u[0], u[1])
		base := [3]float64{r2.Cross(need, u[1]) / det, r2.Cross(u[0], need) / det, 0}
		turning := func(all float64) float64 {
			sum := 0.0
			for k := range base {
				turn := base[k] + all
				if turn < 0 && on.turned[k]+turn < -on.limits.back-1e-6 {
					return math.Inf(1)
				}
				sum += math.Abs(turn)
			}
			return sum
		}
		least := math.Inf(1)
		for i := -6000; i <= 6000; i++ {
			least = min(least, turning(float64(i)/1000))
		}
		all := r2.Dot(m.goes, u[m.knob])/r2.Norm2(u[m.knob]) - base[m.knob]
		if got := turning(all); got > least+0.01 {
			t.Errorf("%.3f turns, and %.3f would do (turned %v, need %v, move %+v)", got, least, on.turned, need, m)
		}
	}
}

// Which screw a move was of does not depend on how far it went.
func TestPosteriorGoesByTheDirection(t *testing.T) {
	u := answers(1, false)
	r := newResponse(25)
	for range 4 {
		for k := range 3 {
			r.learn(k, 0.125, r2.Scale(0.125, u[k]), 0.01, false)
		}
	}
	for _, size := range []float64{0.001, 0.1, 10} {
		for asked := range 3 {
			for did := range 3 {
				k, way, sure := r.posterior(asked, 1, r2.Scale(size, u[did]))
				if k != did || way != 1 || sure != (asked != did) {
					t.Errorf("screw %d was asked for and %d turned, %g turns: screw %d, %+g, sure %v", asked, did, size, k, way, sure)
				}
			}
		}
	}
}

// Surroundings of which little is in sight are like nothing.
func TestLittleInSightIsLikeNothing(t *testing.T) {
	whole := scenery(0, rand.New(rand.NewPCG(9, 10)))
	part := make([]float64, len(whole))
	for i := range part {
		if part[i] = -1; i < len(part)/4 {
			part[i] = whole[i]
		}
	}
	if got := correlation(whole, part, 0); got > 0 {
		t.Errorf("a quarter in sight is alike by %.2f", got)
	}
}

// Surroundings that look the same after half a turn do not tell one half turn from none.
func TestTwofoldSurroundingsTellNoRotation(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	view := func(angle float64) (out []float64) {
		for i := range 72 {
			out = append(out, 100+30*math.Cos(2*(2*math.Pi*float64(i)/72-angle))+0.5*rng.NormFloat64())
		}
		return out
	}
	for _, angle := range []float64{0, 0.7, 2.5} {
		if got, sure := rotation(view(0.3), view(0.3+angle)); sure {
			t.Errorf("turned by %.1f: %.2f is sure", angle, got)
		}
	}
}
