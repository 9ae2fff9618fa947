package night

import (
	"math"
	"testing"

	"halocue/internal/cue"
	"halocue/internal/hands"
	"halocue/internal/observe"
)

// A person who racks on and on is told to stop in time for the ring to end about
// as large as it was, give or take a quarter, by a hand that heeds the word after
// its reaction; one whose ring has not been through focus is not.
func TestRackingIsStopped(t *testing.T) {
	for _, speed := range []float64{20, 40, 70} { // px of radius a second
		p := newScript(t, Settings{})
		p.show(2, ringAt(640, 480, 100))
		if n := len(p.said); n != 1 || p.said[0].Action != cue.OtherSide {
			t.Fatalf("said %v", p.codes())
		}
		p.show(2.5, ringAt(640, 480, 100))
		for z := 100.0; z > -200 && len(p.said) == 1; z -= speed / 10 {
			if math.Abs(z) < 15 {
				p.show(0.05, observe.Sight{Why: "focused", Seen: true})
				continue
			}
			p.show(0.05, ringAt(640, 480, math.Abs(z)))
			if len(p.said) > 1 {
				ends := -z + speed*(hands.StopWord+p.c.reaction)
				if z > 0 || p.said[1].Action != cue.Stop || ends < 75 || ends > 130 {
					t.Errorf("%g px/s: %s at a ring of %g px, which ends at %.0f", speed, p.said[1].Code, -z, ends)
				}
			}
		}
		if len(p.said) == 1 {
			t.Errorf("%g px/s: nothing is said", speed)
		}
	}
}

// A ring that grows at once, because it is racked away from focus, has not been through it:
// that is no reason to say stop.
func TestRackingAwayFromFocusIsNotAnArrival(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(2, ringAt(640, 480, 100))
	p.show(2.5, ringAt(640, 480, 100))
	for r := 100.0; r < 160; r += 2 {
		p.show(0.05, ringAt(640, 480, r))
	}
	for _, c := range p.said {
		if c.Action == cue.Stop {
			t.Errorf("said %v", p.codes())
		}
	}
}
