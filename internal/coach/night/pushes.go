package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

func (c *Coach) followPush() []cue.Cue {
	h := &c.hand
	size := r2.Norm(c.travelled())
	switch h.phase {
	case waiting:
		if size > math.Max(0.05, 6*c.track.Jitter) && c.track.Moving() {
			c.began()
			c.enter(moving)
		} else if math.IsInf(h.spokenAt, 1) {
			return nil
		} else if c.uncentred() == 0 {
			c.pushed() // it is there
		}
	case moving:
		if h.early && c.slowed() && r2.Norm(r2.Sub(c.star, c.goal())) > 0.6*r2.Norm(r2.Sub(h.from, c.goal())) {
			c.notYet() // something else moved the star while the words were said
			return nil
		}
		if c.pushedAway() {
			h.blamed = true
			return []cue.Cue{{Code: cue.CodeRecentreOther, Action: cue.Recentre, Goal: h.cue.Goal, Reason: "the star goes away from the middle"}}
		}
		// Nearly there: the hand will be done before the next words are out.
		goal := c.goal()
		was, is := r2.Norm(r2.Sub(h.from, goal)), r2.Norm(r2.Sub(c.star, goal))
		if c.slowed() || c.uncentred() == 0 || is < nearlyThere*was {
			c.pushed()
		}
	}
	return nil
}

// nearlyThere is the share of the way to the middle that may be left when the next
// words begin.
const nearlyThere = 0.35

// where returns where the star will be when the next words are out.
func (c *Coach) where() r2.Vec {
	if c.hand.kind == pushing && c.hand.phase == settled && c.track.Moving() {
		return c.goal()
	}
	return c.star
}

// pushedAway reports whether the push takes the star clearly away from the
// frame's middle, once.
func (c *Coach) pushedAway() bool {
	h := &c.hand
	if h.blamed || h.early {
		return false
	}
	goal := c.goal()
	drifted := r2.Scale(c.t-h.start, c.track.Drift)
	was, is := r2.Norm(r2.Sub(r2.Add(h.from, drifted), goal)), r2.Norm(r2.Sub(c.star, goal))
	v, _ := c.track.Velocity()
	return is > was+math.Max(0.25, 10*c.track.Jitter) && r2.Dot(v, r2.Sub(c.star, goal)) > 0
}
