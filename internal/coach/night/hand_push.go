package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/hands"
)

// followPush follows the tube as it is pushed, and reports whether it goes away from where
// it should.
func (c *Coach) followPush() (away bool) {
	h := &c.hand
	switch h.Phase {
	case hands.Waiting:
		if r2.Norm(c.travelled()) > math.Max(0.05, 6*c.track.Jitter) && c.track.Moving() {
			c.began()
			c.hand.Enter(hands.Moving, c.t)
		} else if !math.IsInf(h.SpokenAt, 1) && c.uncentred() == 0 {
			c.pushed() // it is there
		}
	case hands.Moving:
		goal := c.goal()
		was, is := r2.Norm(r2.Sub(h.from, goal)), r2.Norm(r2.Sub(c.star, goal))
		if h.early && c.slowed() && is > 0.6*was {
			c.notYet() // something else moved the star while the words were said
			return false
		}
		if c.pushedAway() {
			return true
		}
		// Nearly there: the hand will be done before the next words are out.
		if c.slowed() || c.uncentred() == 0 || is < nearlyThere*was {
			c.pushed()
		}
	}
	return false
}

// nearlyThere is the share of the way to the middle that may be left when the next
// words begin.
const nearlyThere = 0.35

// where returns where the star will be when the next words are out.
func (c *Coach) where() r2.Vec {
	if c.hand.Kind == hands.Pushing && c.hand.Phase == hands.Settled && c.track.Moving() {
		return c.goal()
	}
	return c.star
}

// pushedAway reports whether the push takes the star clearly away from the
// frame's middle, once.
func (c *Coach) pushedAway() bool {
	h := &c.hand
	if h.Corrected || h.early {
		return false
	}
	goal := c.goal()
	drifted := r2.Scale(c.t-h.start, c.track.Drift)
	was, is := r2.Norm(r2.Sub(r2.Add(h.from, drifted), goal)), r2.Norm(r2.Sub(c.star, goal))
	v, _ := c.track.Velocity()
	return is > was+math.Max(0.25, 10*c.track.Jitter) && r2.Dot(v, r2.Sub(c.star, goal)) > 0
}

// Bringing the star to where it is wanted, as the tone and the words tell it.
const (
	centred   = 0.2 // of the room for the star: so near to its goal it is near enough
	centreTop = 1.5 // seconds for which the tone tells that it is
)

// uncentred returns how far the star is from where it is near enough to its goal, mm: 0
// where it is, or where a push was accepted.
func (c *Coach) uncentred() float64 {
	if c.hand.Kind == hands.Pushing && c.hand.Phase == hands.Settled && !c.arriving {
		return 0
	}
	return math.Max(r2.Norm(r2.Sub(c.star, c.goal()))-centred*c.box().half.Y, 0)
}

// pushed takes a push for done. It may still be on its last bit of the way.
func (c *Coach) pushed() {
	c.hand.Enter(hands.Settled, c.t)
	c.arriving = true
}

// learnPush keeps how the push in hand has moved the star.
func (c *Coach) learnPush() {
	if c.hand.Kind != hands.Pushing || len(c.radii) == 0 { // or no star was ever seen
		return
	}
	if d := c.travelled(); r2.Norm(d) > leastPush {
		c.lastPush = d
	}
}
