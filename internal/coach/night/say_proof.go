package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/estimate"
)

// What a proof may cost, seconds.
const (
	swapTime = 7.0  // the words, the reaction and the racking
	wordTime = 3.5  // how long this side is still seen after they have begun
	trimTime = 18.0 // a turn, and the proof begun anew
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
	if b.Sags() && !b.Visiting() && there >= estimate.LeastLooks && c.t-c.proveT < 2*c.s.Patience.Look {
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
	case math.Min(stay, swap) > trimTime+2 && size > 0.4*c.o.Tolerance && b.Wander() == 0:
		return c.trim(a)
	case looking:
	case swap+1 < stay, math.IsInf(swap, 1) && here > 1.5*there+10:
		return c.otherSide("the other side needs a longer look")
	}
	return c.patient()
}

// patient goes on looking, until the air must be blamed.
func (c *Coach) patient() []cue.Cue {
	if c.bank.Wander() > 0 && !c.noted.wander {
		c.noted.wander, c.noted.look = true, c.t
		return []cue.Cue{{Code: cue.CodeLongLook, Action: cue.Tell,
			Reason: fmt.Sprintf("the offset wanders by %.1f tolerances over many seconds, as a current in the tube or a mirror that cools makes it", c.bank.Wander()/c.o.Tolerance)}}
	}
	if c.doubtful() {
		if cues := c.resolve(); cues != nil {
			return cues
		}
	}
	if c.t-c.proveT < 2*c.s.Patience.Look {
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
