package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// The probability that the axis point is outside is that of a circular normal distribution
// about the target: counted.
func TestOutsideOddsAreCounted(t *testing.T) {
	r := rand.New(rand.NewPCG(51, 52))
	b := NewBank(optic5(t))
	h := b.hyps[0]
	in := b.o.Tolerance - b.modelError(h, r2.Vec{})
	for _, z := range []float64{0.7, 1.5, 2.5} {
		sd := in / z
		h.x.axisVar, h.y.axisVar = sd*sd, sd*sd
		const draws = 100_000
		out := 0
		for range draws {
			if math.Hypot(sd*r.NormFloat64(), sd*r.NormFloat64()) > in {
				out++
			}
		}
		if got, want := b.outsideOdds(h, r2.Vec{}), float64(out)/draws; math.Abs(got-want) > 0.01 {
			t.Errorf("%.1f one-sigma: %.4f, counted %.4f", z, got, want)
		}
	}
}

// What the model may be wrong by grows with the star's distance from the axis point, with the
// distance between the places on both sides, and, where one side alone is seen, by 3 % of what
// the silhouette does to the offset there, by the optics.
func TestModelErrorGrows(t *testing.T) {
	b := NewBank(optic5(t))
	h := b.hyps[0]
	least := b.modelError(h, r2.Vec{})
	if far := b.modelError(h, r2.Vec{X: 3}); !(least > 0) || far <= least {
		t.Errorf("%g with the star at the axis point, %g with it 3 mm off", least, far)
	}
	h.seen, h.at = [2]float64{9, 9}, [2]r2.Vec{{X: 1}, {X: -1}}
	if apart := b.modelError(h, r2.Vec{}); apart <= least {
		t.Errorf("%g with the star elsewhere on the other side, %g without", apart, least)
	}
	h.seen = [2]float64{}
	const q, z = 2.0, 5.0
	h.x.silhouette, h.samples = q, []defocusSample{{1, f5.RingRadius(z), 9}}
	b.OneSided = true
	with, without := f5.Offset(r2.Vec{}, r2.Vec{}, r2.Vec{X: q}, z), f5.Offset(r2.Vec{}, r2.Vec{}, r2.Vec{}, z)
	want := least + 0.03*r2.Norm(r2.Sub(with, without))/f5.OffsetPerField()
	if got := b.modelError(h, r2.Vec{}); math.Abs(got-want) > 1e-9 {
		t.Errorf("by one side %g, want %g", got, want)
	}
}

// A longer look brings the bound down about as the root of its frames, to what the model may be
// wrong by.
func TestBoundAfterFallsAsTheRoot(t *testing.T) {
	b := NewBank(optic5(t))
	floor := b.BoundAfter(1e12)
	if q := (b.BoundAfter(4) - floor) / (b.BoundAfter(16) - floor); q < 1.5 || q > 2.5 || !(floor > 0) {
		t.Errorf("four frames have %.2f times the bound of sixteen; of very many it is %g", q, floor)
	}
}

// The star's place on a side is the mean of those that were seen, by what each counts.
func TestSamplesAreAveraged(t *testing.T) {
	h := &hypothesis{filter: filter{side: 1}}
	h.sample(2, 1, r2.Vec{X: 4})
	h.sample(2, 2, r2.Vec{X: 1})
	h.sample(4, 1, r2.Vec{X: 2, Y: 8})
	at := h.at[sideIndex(1)]
	if r2.Norm(r2.Sub(at, r2.Vec{X: 2, Y: 2})) > 1e-12 || h.seen[sideIndex(1)] != 4 || len(h.samples) != 2 || h.samples[0].n != 3 {
		t.Errorf("at %v, %+v", at, h)
	}
}

// A shift moves the axis point and makes it less sure: variances of independent errors add. It
// says nothing of the silhouette.
func TestShiftAddsItsVariance(t *testing.T) {
	b := NewBank(optic5(t))
	mean, sd := b.Axis()
	q := b.SilhouetteSD()
	b.Shift(r2.Vec{X: 2, Y: -1}, 3)
	after, wide := b.Axis()
	if r2.Norm(r2.Sub(r2.Sub(after, mean), r2.Vec{X: 2, Y: -1})) > 1e-9 {
		t.Errorf("from %v to %v", mean, after)
	}
	if math.Abs(wide.X-math.Hypot(sd.X, 3)) > 1e-9 || math.Abs(wide.Y-math.Hypot(sd.Y, 3)) > 1e-9 || b.SilhouetteSD() != q {
		t.Errorf("one-sigma from %v to %v, silhouette %g to %g", sd, wide, q, b.SilhouetteSD())
	}
	b.InflateSilhouette(5)
	if got := b.SilhouetteSD(); math.Abs(got-math.Hypot(q, 5)) > 1e-9 {
		t.Errorf("the silhouette's one-sigma is %g", got)
	}
}

// Rings are compared within a side of focus, and only such as were well seen.
func TestRadiusRatioIsOfOneSide(t *testing.T) {
	for _, c := range []struct {
		samples []defocusSample
		want    float64
	}{
		{nil, 1},
		{[]defocusSample{{1, 2, 9}, {-1, 5, 9}}, 1},
		{[]defocusSample{{1, 2, 9}, {-1, 5, 9}, {1, 4, 9}}, 2},
		{[]defocusSample{{1, 2, 9}, {1, 4, LeastLooks - 1}}, 1},
	} {
		if got := (&hypothesis{samples: c.samples}).radiusRatio(); got != c.want {
			t.Errorf("%v: %g, want %g", c.samples, got, c.want)
		}
	}
}

// What wanders and what a focuser sags by are errors of a claim that no longer look takes
// away: their variances add to the estimate's, and much of either leaves nothing to prove.
func TestWanderAndSagStay(t *testing.T) {
	r := rand.New(rand.NewPCG(53, 54))
	b := NewBank(optic5(t))
	for range 3000 {
		b.noise.add(r2.Vec{X: 0.01 * r.NormFloat64(), Y: 0.01 * r.NormFloat64()})
	}
	sag := func(tolerances float64) {
		sd := tolerances * b.o.Tolerance
		b.sides = sides{visits: 100, square: 100 * sd * sd, most: 9}
	}
	firm := b.FramesToProve(r2.Vec{}, 0, 100, 0)
	sag(0.16)
	if some := b.FramesToProve(r2.Vec{}, 0, 100, 0); math.IsInf(some, 0) || some <= firm {
		t.Errorf("%g frames with a focuser that sags by 0.16 tolerances, %g with a firm one", some, firm)
	}
	sag(1)
	if n := b.FramesToProve(r2.Vec{}, 0, 100, 0); !math.IsInf(n, 1) {
		t.Errorf("%g frames prove what sags by a tolerance", n)
	}
	b.slow = slow{blocks: 20, square: 100, excess: 1e-6}
	h := b.hyps[0]
	want := math.Sqrt(h.axisSD()*h.axisSD() + b.SagVariance() + b.Wander()*b.Wander())
	if got := b.claimSD(h); !(b.Wander() > 0) || !(b.SagVariance() > 0) || !(math.Abs(got-want) < 1e-9) {
		t.Errorf("one-sigma %g, want %g; wander %g, sag %g", got, want, b.Wander(), math.Sqrt(b.SagVariance()))
	}
}
