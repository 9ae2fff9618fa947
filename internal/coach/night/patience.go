package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// Longest that a movement may take once it has begun, seconds.
const (
	longestTurn = 20.0
	longestPush = 12.0
)

// handBusy reports whether a hand is at work or about to be; one that takes too
// long is reminded.
func (c *Coach) handBusy() (cues []cue.Cue, busy bool) {
	h := &c.hand
	if h.kind == idle || h.phase == settled {
		// What was done while the words were said may have been the end of the turn
		// before: this one may still come.
		return nil, h.kind == turning && h.early && !h.stopped && c.t < h.spokenAt+c.usual(byKnob)
	}
	if !c.visible && (h.kind == locking || h.kind == turning && !(h.back && h.phase == waiting)) && c.t-c.lastFound > 1.2 {
		if h.phase == moving || h.kind == locking || r2.Norm(h.turned) > math.Max(0.12, 10*c.track.Jitter) {
			c.lostSight()
		} else {
			owed := h.cue
			c.owed = &owed // it was not begun
		}
		c.enter(settled)
		return nil, false
	}
	if h.phase == moving {
		return c.handAtWork()
	}
	switch h.kind {
	case locking:
		return nil, true
	case pushing:
		if gone := c.t - math.Max(c.lastFound, h.since); !c.visible && gone > 3 && c.covered(gone) {
			c.enter(settled)
			return nil, false
		}
	}
	cues, givenUp := c.overdue()
	if givenUp {
		c.enter(settled)
		if h.kind == turning && c.s.Locks {
			c.shut(h.knob)
		}
		return nil, false
	}
	return cues, true
}

// handAtWork ends what takes too long, or ends out of sight.
func (c *Coach) handAtWork() (cues []cue.Cue, busy bool) {
	h := &c.hand
	took := c.t - h.since
	switch h.kind {
	case turning:
		if h.stopped && c.visible && c.nearEdge() {
			c.learnTurn(c.travelled())
			c.enter(settled)
			return c.recentre("stopped at the frame's edge"), true
		}
		if took > longestTurn {
			c.enter(settled)
			return nil, false
		}
	case pushing:
		if took > longestPush {
			c.enter(settled)
			return nil, false
		}
	case racking:
		stuck := !c.visible && c.why == "clipped" && c.t-c.lastFound > 4
		if took > c.s.Patience.Rack || stuck {
			c.racked()
			c.enter(settled)
			return nil, false
		}
	}
	return nil, true
}
