package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/estimate"
	"halocue/internal/hands"
)

// What a proof may cost, seconds.
const (
	swapTime = 7.0  // the words, the reaction and the racking
	wordTime = 3.5  // how long this side is still seen after they have begun
	trimTime = 18.0 // a turn, and the proof begun anew; where a lock must be released first, no turn is worth it
)

// prove looks at this side, then at the other, until the claim stands. a is where
// the axis point is thought to be.
func (c *Coach) prove(a r2.Vec) []cue.Cue {
	c.stage = "prove"
	b := c.bank
	here, there := b.SeenHere(), b.SeenThere()
	if b.OneSided && here >= estimate.LeastLooks && !b.BestSeenEnough() {
		return c.twoRings()
	}
	if here < proveHere {
		return nil
	}
	size := r2.Norm(a)
	if b.OneSided {
		return c.patient()
	}
	if b.Sags() && !b.Visiting() && there >= estimate.LeastLooks && c.t-c.proveT < 2*lookPatience {
		return c.otherSide("the sides of focus do not agree: the other once more")
	}
	words := wordTime * c.s.FPS / b.VarianceInflation()
	if there < estimate.LeastLooks {
		// The other side must be seen anyway: go as soon as it will not need a
		// longer look than this one has had.
		_, sd := b.Axis()
		sure := math.Max(sd.X, sd.Y) < 0.25*c.o.Tolerance || here > 20
		if there := b.FramesToProve(c.star, size, here+words, 0); sure && there <= here+words {
			return c.otherSide("this side agrees; now the other for proof")
		}
		return c.patient()
	}
	uncompared := !b.Compared() && b.MoreVisits()
	looking := uncompared && b.Visiting() // a visit that is cut short tells nothing
	if uncompared && !looking && b.FramesToProve(c.star, size, here+words, there) <= 2*estimate.LeastLooks+b.FramesToProve(c.star, size, there, here) {
		return c.otherSide("back to the first side: a focuser that sags would show it")
	}
	stay := c.seconds(b.FramesToProve(c.star, size, there, here))
	swap := swapTime + c.seconds(b.FramesToProve(c.star, size, here+words, there))
	switch {
	case math.Min(stay, swap) > trimTime+2 && size > 0.4*c.o.Tolerance && b.Wander() == 0 && !c.s.Locks:
		return c.trim(a)
	case looking:
	case swap+1 < stay, math.IsInf(swap, 1) && here > 1.5*there+10:
		return c.otherSide("the other side needs a longer look")
	}
	return c.patient()
}

// patient goes on looking, until a longer look would not help in this air.
func (c *Coach) patient() []cue.Cue {
	if c.noted.first("wander", c.bank.Wander() > 0) {
		c.noted.look = c.t
		return []cue.Cue{{Code: cue.CodeLongLook, Action: cue.Tell,
			Reason: fmt.Sprintf("the offset wanders by %.1f tolerances over many seconds, as a current in the tube or a mirror that cools makes it", c.bank.Wander()/c.o.Tolerance)}}
	}
	if c.doubtful() {
		if cues := c.resolve(); cues != nil {
			return cues
		}
	}
	if c.t-c.proveT < 2*lookPatience {
		a, _ := c.bank.Axis()
		return c.lookLong(c.seconds(c.bank.FramesToProve(c.star, r2.Norm(a), c.bank.SeenThere(), c.bank.SeenHere())))
	}
	if !c.bank.BestSeenEnough() {
		return c.otherSide("this side alone is no proof")
	}
	if c.bank.Disagree() && c.bank.MoreVisits() && c.bank.Inside(c.star) {
		return c.otherSide("it all hangs on whether the sides of focus agree: the other once more")
	}
	bound := c.bank.UpperBound(c.star) / c.o.Tolerance
	if c.bank.Disagree() && c.bank.Wander() == 0 {
		return c.finish(cue.GivenUp, fmt.Sprintf("bound %.2f tolerances after a long look, for the two sides of focus do not agree", bound))
	}
	if c.bank.Torn() {
		return c.finish(cue.GivenUp, fmt.Sprintf("bound %.2f tolerances after a long look, for doubt about the side of focus and not for the air", bound))
	}
	return c.finish(cue.AirLimit, fmt.Sprintf("bound %.2f tolerances after a long look", bound))
}

func (c *Coach) seconds(frames float64) float64 {
	return frames * c.bank.VarianceInflation() / c.s.FPS
}

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
	if c.hand.Kind == hands.Racking && c.hand.cue.Action == cue.OtherSide {
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
	if c.hand.Kind == hands.Racking && c.hand.cue.Action == cue.Defocus {
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
	if b.OneSided || c.t-math.Max(c.sideT, c.hand.Since) <= 4 {
		return false
	}
	return b.Contested(c.star)
}
