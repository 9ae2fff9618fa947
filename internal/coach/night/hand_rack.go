package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// followRack follows the focuser, and reports whether it has gone far enough.
func (c *Coach) followRack() (enough bool) {
	h := &c.hand
	h.least = math.Min(h.least, c.radius)
	switch h.Phase {
	case hands.Waiting:
		if h.unseen || math.Abs(c.radius-h.radius0) > 0.1*h.radius0 {
			c.began()
			c.hand.Enter(hands.Moving, c.t)
		}
	case hands.Moving:
		if c.steady() && c.t-h.Since > 0.5 {
			c.hand.Enter(hands.Settled, c.t)
			c.racked()
			return false
		}
		return !h.Stopped && c.enough()
	}
	return false
}

// enough reports whether the racking, if it is stopped now, will have gone far
// enough: the person at the focuser cannot see the ring.
func (c *Coach) enough() bool {
	h := &c.hand
	n := len(c.radii)
	if n < 3 {
		return false
	}
	a, b := c.radii[n-3], c.radii[n-1]
	if b.T-a.T >= 3.5/c.s.FPS { // a ring that was lost in between tells no speed
		return false
	}
	rate := (b.At.X - a.At.X) / (b.T - a.T)
	then := c.radius + rate*(hands.StopWord+c.reaction+c.s.EarDelayS)
	switch {
	case h.cue.Action == cue.OtherSide:
		return (h.least < 0.4*h.radius0 || h.lost > vanished) && rate > 0 && then > h.radius0
	case h.cue.Action == cue.Defocus && h.cue.Code != cue.CodeFocused && h.cue.Direction == cue.More:
		return rate > 0 && then > 1.3*h.radius0
	}
	return false
}

// watchFocus notices a focuser that is racked though that was not asked for: the
// ring changes its size, or goes out in focus, while the star stands still.
func (c *Coach) watchFocus() {
	const other = 0.15
	h := &c.hand
	if h.Kind == hands.Racking && h.Phase != hands.Settled || c.track.Moving() {
		c.ringWas, c.odd = 0, 0
		return
	}
	switch {
	case c.visible && c.steady() && (c.ringWas == 0 || math.Abs(c.radius-c.ringWas) < other*c.ringWas):
		c.ringWas, c.odd = c.radius, 0
		return
	case c.ringWas == 0:
		return
	case c.visible && math.Abs(c.radius-c.ringWas) > other*c.ringWas, !c.visible && (c.why == "focused" || c.why == "no-shadow"):
		c.odd += c.dt
	default:
		c.odd = 0
	}
	if c.odd > vanished {
		c.hand = hand{Task: hands.Task{Kind: hands.Racking, Phase: hands.Moving, SpokenAt: c.t, Since: c.t}, from: c.star, start: c.t,
			radius0: c.ringWas, least: math.Min(c.ringWas, c.radius)}
		c.ringWas, c.odd = 0, 0
	}
}

// vanished is for how long, seconds, a ring must be gone or another for that to
// mean something.
const vanished = 0.25

// racked judges where a racking has ended.
func (c *Coach) racked() {
	h := &c.hand
	dip := h.least / h.radius0
	switch {
	case h.cue.Action == "": // it was not asked for
		if dip < 0.5 || h.lost > vanished {
			c.bank.BranchOnFocusSide(0.5)
			c.sideT = c.t
		}
	case h.cue.Action == cue.Defocus:
		if h.cue.Code == cue.CodeFocused || dip < 0.3 {
			c.bank.BranchOnFocusSide(0.5)
		}
	case (dip < 0.4 || h.lost > vanished) && c.visible && c.radius > 0.45*h.radius0:
		// Few who are on their way through focus turn back in it.
		through := 0.999
		if dip >= 0.4 {
			through = 0.99 // it burnt out or blurred, and came back
		}
		c.bank.BranchOnFocusSide(through)
		h.through = true
		c.reached(c.t)
	case dip < 0.4 || h.lost > vanished:
		c.bank.BranchOnFocusSide(0.6) // it came to rest near focus, on one side or the other
		c.sideT = c.t
	case dip < 0.7:
		c.bank.BranchOnFocusSide(0.5)
		c.sideT = c.t
	}
	c.rackedTo()
}

// reached takes note that the focuser went through focus, at time t: both sides can
// be reached.
func (c *Coach) reached(t float64) {
	c.sideT, c.tries, c.wentThrough, c.bank.OneSided = t, 0, true, false
}

// rackedTo begins the looks at the side that a racking has ended on.
func (c *Coach) rackedTo() {
	c.bank.Interrupt()
	// The sensor may tip a little as the focuser goes.
	c.bank.Shift(r2.Vec{}, 0.02)
	c.bank.Revisit()
}

// turnedSide takes the person's word that the focuser went through focus, where it was
// not seen to.
func (c *Coach) turnedSide() {
	h := &c.hand
	if h.Kind == hands.Racking {
		if h.Phase == hands.Moving {
			c.racked()
		}
		c.hand.Enter(hands.Settled, c.t)
		if h.through {
			return
		}
		h.through = true
	}
	c.bank.BranchOnFocusSide(0.9)
	c.sideT = c.t
	c.rackedTo()
}

// Driven tells that a motor does what the cue in force asks for, from the end of
// its words at time t on: the star is not taken for drifting, nor the tube for
// pushed by a hand, until Arrived. It answers false where nothing of the kind is
// asked for any more: then no motor must begin.
func (c *Coach) Driven(t float64) bool {
	if c.hand.Phase != hands.Waiting || c.hand.Kind != hands.Pushing && c.hand.Kind != hands.Racking {
		return false
	}
	c.driven = true
	c.hand.Enter(hands.Moving, t)
	return true
}

// Arrived tells that the motor rests at time t: at its goal, or where it was
// stopped. Through says that it is known to have passed through focus.
func (c *Coach) Arrived(t float64, through bool) {
	if !c.driven {
		return
	}
	c.driven = false
	c.hand.Enter(hands.Settled, t)
	if c.hand.Kind != hands.Racking {
		return
	}
	if through { // else the ring has to tell
		c.bank.BranchOnFocusSide(0.999)
		c.reached(t)
		c.rackedTo()
		return
	}
	c.racked()
}
