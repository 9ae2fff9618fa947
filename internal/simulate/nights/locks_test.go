package nights

import (
	"testing"

	"halocue/internal/cue"
)

// No lock is released and snugged again without a turn between. In this night of restless
// air the proof took so long that a turn seemed better; but once the lock was open the
// mirror was near enough, and the lock was snugged. So it went on for twenty minutes.
func TestNoLockIsReleasedForNothing(t *testing.T) {
	r, err := Run(96017, Options{Draw: small, Person: "practised"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var released string
	for _, s := range r.Said {
		switch {
		case s.Action == cue.Turn:
			released = ""
		case s.Action == cue.Lock && s.Direction == cue.Release:
			released = s.Knob
		case s.Action == cue.Lock && s.Knob == released:
			t.Errorf("at %.0f s the lock of %s is snugged after no turn", s.Begin, s.Knob)
		}
	}
	if r.Result == cue.GivenUp || r.Turns == 0 {
		t.Errorf("%s after %.0f s and %d turns", r.Result, r.Seconds, r.Turns)
	}
}
