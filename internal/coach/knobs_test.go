package coach

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

var clock12 = []Knob{{"top", 12}, {"right-hand", 4}, {"left-hand", 8}}

// jumps returns where a camera of given rotation, perhaps mirrored, sees the star
// go when a knob is tightened by one unit.
func jumps(rotation float64, mirrored bool, k int) r2.Vec {
	a := clock12[k].Clock * math.Pi / 6
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
			r := newResponses(clock12, 12)
			r.observe(0, 1, 0.1, jumps(rotation, mirrored, 0), 0.01, false)
			known := knownKnobs(r.modes())
			if !known[0] || known[1] || known[2] {
				t.Fatalf("after one knob known are %v", known)
			}
			r.observe(1, -1, 0.1, r2.Scale(-1, jumps(rotation, mirrored, 1)), 0.01, false)
			for k := range clock12 {
				var mean r2.Vec
				for _, m := range r.modes() {
					mean = r2.Add(mean, r2.Scale(m.p, m.dir[k]))
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
	r := newResponses(clock12, 12)
	r.observe(0, 1, 0.1, r2.Scale(-1, jumps(1, true, 0)), 0.01, false) // the wrong way, the very first time
	for _, k := range []int{0, 1, 0} {
		r.observe(k, 1, 0.1, jumps(1, true, k), 0.01, false)
	}
	did := r.explain(2, 1, jumps(1, true, 0), 0.01, false)
	if did[0][0] < 0.75 {
		t.Errorf("asked for the third knob, the first was tightened: odds %v", did)
	}
	if did = r.explain(2, 1, r2.Scale(-1, jumps(1, true, 2)), 0.01, false); did[2][1] < 0.75 {
		t.Errorf("the third knob went the wrong way: odds %v", did)
	}
}

// Seven turns by a hand that errs by up to a third bring the gain within a sixth,
// and a turn cut short does not lower it.
func TestGainIsLearned(t *testing.T) {
	const true_ = 20.0
	r := newResponses(clock12, 12)
	for i, hand := range []float64{0.8, 1.3, 0.9, 1.1, 0.7, 1.2, 1.0} {
		k := i % 3
		r.observe(k, 1, 0.1, r2.Scale(true_*0.1*hand, jumps(0, false, k)), 0.01, false)
	}
	for k := range clock12 {
		if got := r.perTurn(k); math.Abs(got/true_-1) > 0.17 {
			t.Errorf("knob %d: %.1f mm a turn, truly %.1f", k, got, true_)
		}
	}
	was := r.perTurn(0)
	r.observe(0, 1, 0.3, r2.Scale(1, jumps(0, false, 0)), 0.01, true)
	if r.perTurn(0) < was {
		t.Error("a turn that was stopped lowered the gain")
	}
}

// What one night taught the next begins with, not too surely.
func TestMemoryComesBack(t *testing.T) {
	c := mustNew(t, Settings{Telescope: f5, PixelMM: 0.005})
	if _, ok := c.Memory(); ok {
		t.Fatal("a night that has seen nothing teaches something")
	}
	for k := range clock12 {
		c.knobs.observe(k, 1, 0.1, r2.Scale(1.6, jumps(2, true, k)), 0.01, false)
	}
	m, ok := c.Memory()
	if !ok || m.Mirrored < 0.95 || math.Abs(wrap(m.Rotation-2)) > 0.05 {
		t.Fatalf("learned %+v", m)
	}
	next := mustNew(t, Settings{Telescope: f5, PixelMM: 0.005, Memory: &m})
	known := knownKnobs(next.knobs.modes())
	if !known[0] || !known[1] || !known[2] {
		t.Errorf("the next night knows %v", known)
	}
	if s := next.knobs.sd[0]; s <= c.knobs.sd[0] {
		t.Errorf("the next night is as sure of the gain (%.2f) as the last (%.2f)", s, c.knobs.sd[0])
	}
	// The camera was turned by 90 degrees since: two turns put it right.
	for _, k := range []int{0, 1} {
		next.knobs.observe(k, 1, 0.1, r2.Scale(1.6, jumps(2+math.Pi/2, true, k)), 0.01, false)
	}
	if _, rot, _ := next.knobs.orientation(); math.Abs(wrap(rot-2-math.Pi/2)) > 0.1 {
		t.Errorf("a camera turned since is still taken for %.2f", rot)
	}
}

func mustNew(t *testing.T, s Settings) *Coach {
	t.Helper()
	c, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
