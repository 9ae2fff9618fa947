package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

func (c *Coach) followPush() []Cue {
	h := &c.hand
	size := r2.Norm(c.travelled())
	switch h.phase {
	case waiting:
		if size > math.Max(0.05, 6*c.track.jit) && c.track.moving() {
			c.enter(moving)
		}
	case moving:
		if c.pushedAway() {
			h.blamed = true
			return []Cue{{Code: CodeRecentreOther, Action: Recentre, Reason: "the star goes away from the middle"}}
		}
		// Nearly there: the hand will be done before the next words are out.
		middle := c.box().centre
		was, is := r2.Norm(r2.Sub(h.from, middle)), r2.Norm(r2.Sub(c.star, middle))
		if c.slowed() || is < math.Max(0.2*c.box().half.Y, nearlyThere*was) {
			c.enter(settled)
		}
	}
	return nil
}

// nearlyThere is the share of the way to the middle that may be left when the next
// words begin.
const nearlyThere = 0.35

// where returns where the star will be when the next words are out.
func (c *Coach) where() r2.Vec {
	if c.hand.kind == pushing && c.hand.phase == settled && c.track.moving() {
		return c.box().centre
	}
	return c.star
}

// pushedAway reports whether the push takes the star clearly away from the
// frame's middle, once.
func (c *Coach) pushedAway() bool {
	h := &c.hand
	if h.blamed {
		return false
	}
	middle := c.box().centre
	was, is := r2.Norm(r2.Sub(h.from, middle)), r2.Norm(r2.Sub(c.star, middle))
	v, _ := c.track.velocity()
	return is > was+math.Max(0.25, 10*c.track.jit) && r2.Dot(v, r2.Sub(c.star, middle)) > 0
}
