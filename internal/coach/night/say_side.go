package night

import (
	"fmt"
	"math"

	"halocue/internal/cue"
	"halocue/internal/estimate"
)

func (c *Coach) otherSide(why string) []cue.Cue {
	c.stage = "other-side"
	if !c.stays(c.inset(1.05), c.rackAhead()) && !c.pushedJustNow() {
		return c.recentre("before racking the star should be well in the frame")
	}
	if c.bank.ReachesBoth() {
		c.reached(c.sideT)
	}
	if c.tries++; c.tries > 2 && !c.wentThrough && (c.bank.SeenHere() < estimate.LeastLooks || c.bank.SeenThere() < estimate.LeastLooks) {
		c.bank.OneSided = true
		return c.twoRings()
	}
	say := cue.Cue{Code: cue.CodeOtherSide, Action: cue.OtherSide, Reason: why}
	if c.hand.kind == racking && c.hand.cue.Action == cue.OtherSide {
		say.Again = !c.hand.begun
	}
	return []cue.Cue{say}
}

// twoRings asks for another defocus on this side, where the other cannot be
// reached: step by step until the rings are two to one.
func (c *Coach) twoRings() []cue.Cue {
	c.stage = "prove"
	dir := cue.More
	if c.radius*1.25 > c.largest() {
		dir = cue.Less
	}
	if c.hand.kind == racking && c.hand.cue.Action == cue.Defocus {
		dir = c.hand.cue.Direction // go on that way
	}
	return []cue.Cue{{Code: cue.CodeTwoRings, Action: cue.Defocus, Direction: dir,
		Reason: fmt.Sprintf("rings %.1f to 1 so far; the other side of focus cannot be reached", c.bank.RadiusRatio())}}
}

// mostDoubts is how often a ring of another size is asked for, and then the other
// side, to find out which side of focus was seen.
const mostDoubts = 2

// resolve asks for what will tell which side of focus this is: a ring of another
// size, then the other side once more. It returns none when both were tried.
func (c *Coach) resolve() []cue.Cue {
	switch c.doubts++; {
	case c.doubts <= mostDoubts:
		dir := cue.More
		if 1.3*c.radius > c.largest() || c.hand.cue.Direction == cue.Less {
			dir = cue.Less
		}
		return []cue.Cue{{Code: cue.CodeDefocus, Action: cue.Defocus, Direction: dir,
			Reason: "it is not sure that this is the other side: a ring of another size will tell"}}
	case c.doubts <= 2*mostDoubts:
		cues := c.otherSide("it is not sure which side of focus this is: the other once more")
		if cues[0].Action == cue.Recentre {
			c.doubts-- // not yet
		}
		return cues
	}
	return nil
}

// doubtful reports whether what keeps a claim back, for some seconds now, is doubt
// whether the focuser really went through: a silhouette that happens to be central
// leans the shadow alike on both sides, and coma may pass for one that is not.
func (c *Coach) doubtful() bool {
	b := c.bank
	if b.OneSided || c.t-math.Max(c.sideT, c.hand.since) <= 4 {
		return false
	}
	return b.Contested(c.star)
}
