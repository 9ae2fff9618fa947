package coach

import "math"

// handBusy reports whether a hand is at work or about to be; if it takes too
// long it is asked again.
func (c *Coach) handBusy() ([]Cue, bool) {
	h := &c.hand
	if h.kind == idle || h.phase == settled {
		return nil, false
	}
	late := c.t - h.out
	if !c.visible && (h.kind == locking || h.kind == turning) && c.t-c.lastFound > 1.2 {
		c.lostSight()
		c.enter(settled)
		return nil, false
	}
	if gone := c.t - math.Max(c.lastFound, h.out); !c.visible && h.kind == pushing && gone > 3 && c.covered(gone) {
		c.enter(settled)
		return nil, false
	}
	switch h.kind {
	case turning:
		if h.phase == moving && h.stopped && c.visible && c.nearEdge() {
			c.learnTurn(c.travelled())
			c.enter(settled)
			return c.recentre("stopped at the frame's edge"), true
		}
		if h.phase == waiting && late > c.s.Patience.Move && c.visible {
			c.enter(settled)
			if c.s.Locks && c.repeats > 0 { // the lock may not have been heard
				c.repeats = 0
				return c.lock(h.knob, Release), true
			}
			if c.repeats++; c.repeats > 2 {
				c.repeats = 0
				return nil, false
			}
			cue := h.cue
			cue.Code, cue.Reason = CodeTurnAgain, "nothing has moved since the cue"
			cue.Turns = math.Max(1.3*cue.Turns, 0.05)
			return []Cue{cue}, true
		}
	case pushing:
		if h.phase == waiting && late > c.s.Patience.Move && c.visible {
			c.enter(settled)
			return nil, false
		}
		if late > 12 {
			c.enter(settled)
			return nil, false
		}
	case racking:
		stuck := !c.visible && c.why == "clipped" && c.t-c.lastFound > 4
		if late > c.s.Patience.Rack || stuck {
			if h.phase == moving {
				c.racked()
			}
			c.enter(settled)
			return nil, false
		}
	case locking:
		return nil, late < 1.3 // the next lock may be named while a hand is at this one
	}
	if h.kind == turning && late > 15 {
		c.enter(settled)
		return nil, false
	}
	return nil, true
}
