package estimate

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

var clocks12 = [3]float64{12, 4, 8}

// jumps returns where a camera of given rotation, perhaps mirrored, sees the star
// go when a knob is tightened by one unit.
func jumps(rotation float64, mirrored bool, k int) r2.Vec {
	a := clocks12[k] * math.Pi / 6
	if mirrored {
		a = -a
	}
	s, c := math.Sincos(a + rotation)
	return r2.Vec{X: c, Y: s}
}

// The first knob tells the rotation up to the parity, the second tells the rest.
func TestTwoKnobsTellTheCamera(t *testing.T) {
	for _, mirrored := range []bool{false, true} {
		for rotation := -3.0; rotation < 3; rotation += 0.7 {
			r := NewKnobModel(clocks12, 12)
			r.Observe(Turn{Knob: 0, Sign: 1, Turns: 0.1, Jump: jumps(rotation, mirrored, 0), Jitter: 0.01})
			known := KnownKnobs(r.Orientations())
			if !known[0] || known[1] || known[2] {
				t.Fatalf("after one knob known are %v", known)
			}
			r.Observe(Turn{Knob: 1, Sign: -1, Turns: 0.1, Jump: r2.Scale(-1, jumps(rotation, mirrored, 1)), Jitter: 0.01})
			for k := range clocks12 {
				var mean r2.Vec
				for _, m := range r.Orientations() {
					mean = r2.Add(mean, r2.Scale(m.Chance, m.Direction[k]))
				}
				if r2.Dot(mean, jumps(rotation, mirrored, k)) < 0.9 {
					t.Errorf("mirrored %v, rotation %.1f: knob %d thought to go %v", mirrored, rotation, k, mean)
				}
			}
		}
	}
}

// A hand that takes the wrong knob or turns the wrong way is found out and spoils
// nothing for long.
func TestWrongHandsAreOutvoted(t *testing.T) {
	r := NewKnobModel(clocks12, 12)
	r.Observe(Turn{Knob: 0, Sign: 1, Turns: 0.1, Jump: r2.Scale(-1, jumps(1, true, 0)), Jitter: 0.01}) // the wrong way, the very first time
	for _, k := range []int{0, 1, 0} {
		r.Observe(Turn{Knob: k, Sign: 1, Turns: 0.1, Jump: jumps(1, true, k), Jitter: 0.01})
	}
	did := r.Posterior(Turn{Knob: 2, Sign: 1, Jump: jumps(1, true, 0), Jitter: 0.01})
	if did[0][0] < 0.75 {
		t.Errorf("asked for the third knob, the first was tightened: odds %v", did)
	}
	if did = r.Posterior(Turn{Knob: 2, Sign: 1, Jump: r2.Scale(-1, jumps(1, true, 2)), Jitter: 0.01}); did[2][1] < 0.75 {
		t.Errorf("the third knob went the wrong way: odds %v", did)
	}
}

// Seven turns by a hand that errs by up to a third bring the gain within a sixth,
// and a turn cut short does not lower it.
func TestGainIsLearned(t *testing.T) {
	const true_ = 20.0
	r := NewKnobModel(clocks12, 12)
	for i, hand := range []float64{0.8, 1.3, 0.9, 1.1, 0.7, 1.2, 1.0} {
		k := i % 3
		r.Observe(Turn{Knob: k, Sign: 1, Turns: 0.1, Jump: r2.Scale(true_*0.1*hand, jumps(0, false, k)), Jitter: 0.01})
	}
	for k := range clocks12 {
		if got := r.PerTurn(k); math.Abs(got/true_-1) > 0.17 {
			t.Errorf("knob %d: %.1f mm a turn, truly %.1f", k, got, true_)
		}
	}
	was := r.PerTurn(0)
	r.Observe(Turn{Knob: 0, Sign: 1, Turns: 0.3, Jump: r2.Scale(1, jumps(0, false, 0)), Jitter: 0.01, Cut: true})
	if r.PerTurn(0) < was {
		t.Error("a turn that was stopped lowered the gain")
	}
}

// What one night is half sure of, the next is not surer of: a probability that the camera
// mirrors comes back as it was.
func TestParityIsRecalledAsItWas(t *testing.T) {
	for _, mirrored := range []float64{0.2, 0.6, 0.9} {
		r := NewKnobModel(clocks12, 12)
		r.Recall(KnobMemory{Mirrored: mirrored, Rotation: 1, RotationSD: 0.2})
		if got := r.Memory().Mirrored; math.Abs(got-mirrored) > 0.01 {
			t.Errorf("%.2f comes back as %.3f", mirrored, got)
		}
	}
}
