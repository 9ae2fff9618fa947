package coach

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
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

// What a proof may cost, seconds.
const (
	swapTime = 7.0  // the words, the reaction and the racking
	wordTime = 3.5  // how long this side is still seen after they have begun
	trimTime = 18.0 // a turn, and the proof begun anew
)

// prove looks at this side, then at the other, until the claim stands. a is where
// the axis point is thought to be.
func (c *Coach) prove(a r2.Vec) []Cue {
	c.stage = "prove"
	b := c.belief
	here, there := b.seenHere(), b.seenThere()
	if b.oneSided && here >= leastLooks && !b.seenEnough(b.best()) {
		return c.twoRings()
	}
	if here < proveHere {
		return nil
	}
	size := r2.Norm(a)
	if b.oneSided {
		return c.patient()
	}
	words := wordTime * c.s.FPS / b.noise.inflation()
	if there < leastLooks {
		// The other side must be seen anyway: go as soon as it will not need a
		// longer look than this one has had.
		_, sd := b.axis()
		sure := math.Max(sd.X, sd.Y) < 0.25*c.o.tol || here > 20
		if there := c.framesThere(size, here+words, 0); sure && there <= here+words {
			return c.otherSide("this side agrees; now the other for proof")
		}
		return c.patient()
	}
	stay := c.seconds(c.framesThere(size, there, here))
	swap := swapTime + c.seconds(c.framesThere(size, here+words, there))
	switch {
	case math.Min(stay, swap) > trimTime+2 && size > 0.4*c.o.tol:
		return c.trim(a)
	case swap+1 < stay, math.IsInf(swap, 1) && here > 1.5*there+10:
		return c.otherSide("the other side needs a longer look")
	}
	return c.patient()
}

// patient goes on looking, until the air must be blamed.
func (c *Coach) patient() []Cue {
	if c.doubtful() {
		dir := More
		if 1.3*c.radius > c.largest() || c.hand.cue.Direction == Less {
			dir = Less
		}
		return []Cue{{Code: CodeDefocusMore, Action: Defocus, Direction: dir,
			Reason: "the offset is the same as before: a ring of another size will tell whether this is the other side"}}
	}
	if c.t-c.proveT < 2*c.s.Patience.Look {
		a, _ := c.belief.axis()
		return c.lookLong(c.seconds(c.framesThere(r2.Norm(a), c.belief.seenThere(), c.belief.seenHere())))
	}
	if !c.belief.seenEnough(c.belief.best()) {
		return c.otherSide("this side alone is no proof")
	}
	return c.finish(AirLimit, fmt.Sprintf("bound %.2f tolerances after a long look", c.belief.worst(c.star)/c.o.tol))
}

// doubtful reports whether all that keeps a claim back, for some seconds now, is
// doubt whether the focuser really went through: a silhouette that happens to be
// central leans the shadow alike on both sides.
func (c *Coach) doubtful() bool {
	b := c.belief
	if h := b.best(); !b.seenEnough(h) || b.bound(h, c.star) >= b.o.tol || b.oneSided {
		return false
	}
	return c.t-math.Max(c.sideT, c.hand.since) > 4
}

func (c *Coach) seconds(frames float64) float64 {
	return frames * c.belief.noise.inflation() / c.s.FPS
}

// framesThere returns how many more independent frames of one side, of which have
// been seen, would prove a star that seems size mm off, with other frames of the
// other side; +Inf if no number would do.
func (c *Coach) framesThere(size, other, have float64) float64 {
	b := c.belief
	mod := b.model(b.best(), c.star)
	for _, more := range [...]float64{0, 2, 4, 7, 10, 14, 20, 28, 40, 56, 80, 113, 160, 226, 320} {
		n := have + more
		if n < leastLooks {
			continue
		}
		sd := math.Sqrt(b.noise.sd2()*(1/n+1/math.Max(other, 1))) / 2 / c.o.k
		if size+reach(sd, c.o.tol)*sd+mod < 0.97*c.o.tol {
			return more
		}
	}
	return math.Inf(1)
}
