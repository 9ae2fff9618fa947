package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// Two equally likely hypotheses make a mixture: by the law of total variance its variance is
// the mean of theirs and the variance of their means.
func TestAxisIsThatOfTheMixture(t *testing.T) {
	b := NewBank(optic5(t))
	for i, axis := range []float64{1, 3} {
		h := b.hyps[i]
		h.x.axis, h.x.axisVar, h.y.axis, h.y.axisVar, h.logW = axis, 0.04, -axis, 0.09, 0
	}
	mean, sd := b.Axis()
	want := r2.Vec{X: math.Sqrt(0.04 + 1), Y: math.Sqrt(0.09 + 1)}
	if !(r2.Norm(r2.Sub(mean, r2.Vec{X: 2, Y: -2})) < 1e-12) || !(r2.Norm(r2.Sub(sd, want)) < 1e-12) { // nor NaN
		t.Errorf("mean %v, one-sigma %v; want 2, -2 and %v", mean, sd, want)
	}
}

// A visit counts by its information, the inverse of its variance: one that is half as sure
// counts a quarter.
func TestVisitCountsByItsInformation(t *testing.T) {
	shown := func(tolerances float64) float64 {
		b := NewBank(optic5(t))
		sd := tolerances * b.o.Tolerance * b.o.offsetPerField()
		for _, h := range b.hyps {
			h.visit = &visit{n: 1000, v: sd * sd}
		}
		return b.visits().shown
	}
	if a, b := shown(0.29), shown(0.58); math.Abs(a/b-4) > 1e-9 {
		t.Errorf("a visit shows %.3f, one half as sure %.3f", a, b)
	}
	if s := shown(0.1); s != 1 {
		t.Errorf("a very sure visit shows %.3f of what a claim needs", s)
	}
}

// A knob that is turned again and again says nothing sure of the others: the mirror image of
// the camera would do the same.
func TestOneKnobLeavesTheOthersUncertain(t *testing.T) {
	for k := range clocks12 {
		r := NewKnobModel(clocks12, 12)
		for range 4 {
			r.Observe(Turn{Knob: k, Sign: 1, Turns: 0.1, Jump: jumps(1, false, k), Jitter: 0.01})
		}
		if r.Certain() {
			t.Errorf("after knob %d alone the camera's orientation is certain", k)
		}
		other := (k + 1) % 3
		if r.Observe(Turn{Knob: other, Sign: 1, Turns: 0.1, Jump: jumps(1, false, other), Jitter: 0.01}); !r.Certain() {
			t.Errorf("after knobs %d and %d the camera's orientation is not certain", k, other)
		}
	}
}

// A side of focus counts only once LeastLooks frames of it were seen, however calm the air;
// in worse air a proof takes more, and far from the target none will do.
func TestFramesToProve(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 42))
	frames := func(air, size float64) float64 {
		b := NewBank(optic5(t))
		for range 3000 {
			b.noise.add(r2.Vec{X: air * r.NormFloat64(), Y: air * r.NormFloat64()})
		}
		return b.FramesToProve(r2.Vec{}, size*b.o.Tolerance, 100, 0)
	}
	calm, restless := frames(0.0005, 0), frames(0.01, 0)
	if calm < LeastLooks || !(restless > calm) || math.IsInf(restless, 0) {
		t.Errorf("%g frames in calm air, %g in restless air", calm, restless)
	}
	if n := frames(0.0005, 1.1); !math.IsInf(n, 1) {
		t.Errorf("%g frames prove an axis point that is outside", n)
	}
}

// A visit that is as sure in tolerances counts the same with every telescope.
func TestVisitCountsInTolerances(t *testing.T) {
	shown := func(focal float64) float64 {
		o := optic5(t)
		o.Telescope.FocalLength = focal
		o.Tolerance = o.Telescope.Tolerance()
		b := NewBank(o)
		sd := 0.5 * o.Tolerance * o.offsetPerField()
		for _, h := range b.hyps {
			h.visit = &visit{n: 1000, v: sd * sd}
		}
		return b.visits().shown
	}
	if a, b := shown(800), shown(1600); math.Abs(a-b) > 1e-9 {
		t.Errorf("%.4f with F/4, %.4f with F/8", a, b)
	}
}

// One visit that is far off, with the mirror untouched since, contradicts; one that agrees
// does not; and where the focuser is known to hold none does.
func TestVisitContradicts(t *testing.T) {
	for _, c := range []struct {
		off        float64 // tolerances
		holds, say bool
	}{{0, false, false}, {3, false, true}, {3, true, false}} {
		b := NewBank(optic5(t))
		b.Holds = c.holds
		sd := 0.2 * b.o.Tolerance * b.o.offsetPerField()
		for _, h := range b.hyps {
			h.visit = &visit{n: 1000, v: sd * sd, sum: r2.Vec{X: 1000 * c.off * b.o.Tolerance * b.o.offsetPerField()}}
		}
		if b.Disagree() != c.say || b.Compared() != (c.holds || !c.say) {
			t.Errorf("%+v: disagrees %v, compared %v", c, b.Disagree(), b.Compared())
		}
	}
}

// With the right model the normalised innovation squared of two degrees of freedom is 2 on
// average (chi-squared distribution), and so is its running mean.
func TestMeanNISIsTwo(t *testing.T) {
	r := rand.New(rand.NewPCG(43, 44))
	b := NewBank(optic5(t))
	look(b, r, 300, r2.Vec{}, r2.Vec{X: 1}, r2.Vec{X: 1}, 5, 0.004)
	mean := 0.0
	for range 1000 {
		look(b, r, 1, r2.Vec{}, r2.Vec{X: 1}, r2.Vec{X: 1}, 5, 0.004)
		mean += b.meanNIS / 1000
	}
	if math.Abs(mean-2) > 0.4 {
		t.Errorf("%.2f", mean)
	}
}
