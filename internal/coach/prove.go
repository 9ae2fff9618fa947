package coach

import (
	"fmt"
	"math"
)

func (c *Coach) otherSide(why string) []Cue {
	c.stage = "other-side"
	b := c.inset(1.05)
	if !b.holds(c.star) && !c.pushedJustNow() {
		return c.recentre("before racking the star should be well in the frame")
	}
	if c.tries++; c.tries > 2 {
		c.belief.oneSided = true
		return c.twoRings()
	}
	code := CodeOtherSide
	if c.hand.kind == racking && c.hand.cue.Action == OtherSide {
		code = CodeOtherAgain
	}
	return []Cue{{Code: code, Action: OtherSide, Reason: why}}
}

// twoRings asks for another defocus on this side, where the other cannot be
// reached: step by step until the rings are two to one.
func (c *Coach) twoRings() []Cue {
	c.stage = "prove"
	h := c.belief.best()
	small := math.Inf(1)
	for _, r := range h.rung {
		small = math.Min(small, r.radius)
	}
	dir := More
	if c.radius*1.25 > c.largest() {
		dir = Less
	}
	if c.hand.kind == racking && c.hand.cue.Action == Defocus {
		dir = c.hand.cue.Direction // go on that way
	}
	return []Cue{{Code: CodeTwoRings, Action: Defocus, Direction: dir,
		Reason: fmt.Sprintf("rings %.1f to 1 so far; the other side of focus cannot be reached", h.spread())}}
}

// prove looks at this side, then at the other, until the claim stands.
func (c *Coach) prove(size float64) []Cue {
	c.stage = "prove"
	here, there := c.belief.seenHere(), c.belief.seenThere()
	h := c.belief.best()
	long := c.t-c.sideT > c.s.Patience.Look
	if c.belief.oneSided && here >= leastLooks && !c.belief.seenEnough(h) {
		return c.twoRings()
	}
	if there < leastLooks && !c.belief.oneSided {
		bound := size + c.belief.within(here) + c.belief.model(h, c.star)
		soon := c.belief.within(here + 2*c.s.FPS/c.belief.noise.inflation())
		_, sd := c.belief.axis()
		sure := math.Max(sd.X, sd.Y) < 0.2*c.o.tol && size+soon < 0.9*c.o.tol
		if here >= 10 && bound < 0.97*c.o.tol || here >= proveHere && sure || long {
			return c.otherSide("this side agrees; now the other for proof")
		}
		return c.lookLong()
	}
	if here < leastLooks {
		return nil
	}
	if long {
		if c.belief.within(there) > c.belief.within(here) && there < 0.5*here {
			return c.otherSide("the other side needs a longer look")
		}
		return c.finish(AirLimit, fmt.Sprintf("bound %.2f tolerances after a long look", c.belief.worst(c.star)/c.o.tol))
	}
	return c.lookLong()
}
