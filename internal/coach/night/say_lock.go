package night

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// lock asks for the next lock to be released or snugged, or that of one knob.
func (c *Coach) lock(k int, direction string) []cue.Cue {
	if b := c.inset(1.6); !b.holds(c.star) && !c.pushedJustNow() {
		return c.recentre("a lock may move the star out of the frame")
	}
	c.stage = "unlock"
	reason := "the knob turns only with its lock released"
	if direction == cue.Snug {
		c.stage = "lock"
		reason = "trimmed; the lock holds it"
		if p := r2.Norm(c.locks.pull[k]); p > 0 {
			reason += fmt.Sprintf("; it pulled %.2f tolerances before", p/c.o.Tolerance)
		}
	}
	return []cue.Cue{{Code: cue.CodeLock, Action: cue.Lock, Knob: c.s.Knobs[k].Name, Direction: direction, Reason: reason}}
}

// lockOn names the next lock in a row while a hand is still at the last.
func (c *Coach) lockOn() []cue.Cue {
	if c.hand.cue.Direction == cue.Snug && c.locks.anyOpen() {
		return c.lock(c.locks.next(true), cue.Snug)
	}
	return nil
}
