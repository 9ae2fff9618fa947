package night

import (
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/cue"
)

// A mirror that is not where the last proof left it is remarked, once both sides of focus
// have shown where it is; one that stayed is not.
func TestMirrorThatMovedInItsCellIsRemarked(t *testing.T) {
	for _, moved := range []bool{false, true} {
		m := coach.Memory{Axis: &r2.Vec{}}
		if moved {
			m.Axis.X = 1.5 // mm, more than a tolerance of F/5
		}
		p := newScript(t, Settings{Memory: &m})
		radius, rate := 100.0, 0.0
		for range 1800 {
			before := len(p.said)
			s := ringAt(640, 480, radius)
			if radius < 15 {
				s.Found, s.Why = false, "focused"
			}
			p.show(0.1, s)
			for _, c := range p.said[before:] {
				if c.Action == cue.OtherSide {
					rate = -40
				}
			}
			if radius += 0.1 * rate; radius < 0 {
				radius, rate = -radius, -rate
			}
			if radius >= 100 && rate > 0 {
				radius, rate = 100, 0
			}
		}
		if got := slices.Contains(p.codes(), cue.CodeFlop); got != moved {
			t.Errorf("moved %v: remarked %v\n%v", moved, got, p.codes())
		}
		if !slices.Contains(p.codes(), cue.CodeDone) {
			t.Errorf("the night does not end: %v", p.codes())
		}
	}
}
