package night

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/estimate"
)

var wideBox = frameBox{half: r2.Vec{X: 50, Y: 50}}

// learned returns responses that know a camera of no rotation.
func learned() *estimate.KnobModel {
	r := estimate.NewKnobModel([3]float64{12, 4, 8}, 12)
	for range 2 {
		for k := range 3 {
			r.Observe(estimate.Turn{Knob: k, Sign: 1, Turns: 0.1, Jump: r2.Scale(1.2, jumped(0, false, k)), Jitter: 0.005})
		}
	}
	return r
}

// A way along one knob is made by that knob, in one turn of its full length; a way
// between two by either, as far as the other then leads home.
func TestPlanTakesTheKnobThatLeadsHome(t *testing.T) {
	r := learned()
	for k := range 3 {
		for _, way := range []float64{1, -1} {
			need := r2.Scale(2*way, jumped(0, false, k))
			m := plan(r, task{need: need, box: wideBox, goal: 0.5})
			if m.knob != k || m.sign != way || m.axis < 1.6 || m.axis > 2.1 {
				t.Errorf("knob %d way %g: %+v", k, way, m)
			}
		}
	}
	u, w := jumped(0, false, 0), r2.Scale(-1, jumped(0, false, 1))
	m := plan(r, task{need: r2.Add(r2.Scale(3, u), r2.Scale(1, w)), box: wideBox, goal: 0.3})
	left := r2.Sub(r2.Add(r2.Scale(3, u), r2.Scale(1, w)), r2.Scale(m.sign*m.axis, jumped(0, false, m.knob)))
	off := math.Inf(1)
	for k := range 3 {
		off = math.Min(off, math.Abs(r2.Cross(left, jumped(0, false, k))))
	}
	if off > 0.2 || r2.Norm(left) > 3.2 {
		t.Errorf("between two knobs: %+v leaves %v, %.2f mm off any knob's way", m, left, off)
	}
}

// A screw is never let out, or bound, beyond its part: the other two do it, since
// one backed off equals the other two tightened.
func TestPlanSparesTheScrews(t *testing.T) {
	r := learned()
	need := r2.Scale(-2, jumped(0, false, 0))
	s := screws{kind: "spring"}
	if m := plan(r, task{need: need, box: wideBox, goal: 0.3, screws: s}); m.knob != 0 || m.sign != -1 {
		t.Fatalf("with all screws in their middle: %+v", m)
	}
	s.turns[0] = -1.9
	m := plan(r, task{need: need, box: wideBox, goal: 0.3, screws: s})
	if m.knob == 0 || m.sign != 1 {
		t.Errorf("a screw nearly out is let out further: %+v", m)
	}
}

// The planner counts how often the star must be brought back: room from a point,
// and the number of re-centrings along a way.
func TestRoomAndTravel(t *testing.T) {
	box := frameBox{half: r2.Vec{X: 2, Y: 1}}
	if got := box.room(r2.Vec{X: 1}, r2.Vec{X: 1}); got != 1 {
		t.Errorf("room to the right edge %g, want 1", got)
	}
	if got := box.room(r2.Vec{X: 1}, r2.Vec{X: -1}); got != 3 {
		t.Errorf("room to the left edge %g, want 3", got)
	}
	if n, end := travel(3, r2.Vec{X: -1}, r2.Vec{X: 1}, box); n != 0 || end.X != -2 {
		t.Errorf("within the frame: %g times, ends at %v", n, end)
	}
	if n, _ := travel(5, r2.Vec{X: -1}, r2.Vec{X: 1}, box); n < 1 || n > 2 {
		t.Errorf("a way of 5 with room for 3 and then 2: %g times", n)
	}
}
