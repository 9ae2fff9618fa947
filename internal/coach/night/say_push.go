package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// framing keeps star and ring where they can be measured.
func (c *Coach) framing() []cue.Cue {
	small := math.Max(math.Min(0.45*c.o.Telescope.RingRadius(c.o.Telescope.BestDefocus()), 0.07*float64(c.height)*c.o.Pixel), 0.03*float64(c.height)*c.o.Pixel)
	large := c.largest()
	switch {
	case c.radius < small:
		c.stage = "defocus"
		return []cue.Cue{{Code: cue.CodeDefocus, Action: cue.Defocus, Direction: cue.More,
			Reason: fmt.Sprintf("ring of %.0f px is too small", c.radius/c.o.Pixel)}}
	case c.radius > large:
		c.stage = "defocus"
		return []cue.Cue{{Code: cue.CodeDefocus, Action: cue.Defocus, Direction: cue.Less,
			Reason: fmt.Sprintf("ring of %.0f px is too large for the frame", c.radius/c.o.Pixel)}}
	}
	if b := c.box(); !c.stays(b, c.visit()) {
		enough := c.stays(b, pushWords+math.Min(c.usual(byKnob), 12)+1) // for one thing to be begun
		if c.pushedJustNow() && b.holds(c.star) && (enough || c.pushes >= mostPushes) {
			return nil
		}
		return c.recentre("the star is at the frame's edge, or will be soon")
	}
	return nil
}

// pushedJustNow guards against asking twice for what cannot be had.
func (c *Coach) pushedJustNow() bool {
	return c.hand.Kind == hands.Pushing && c.hand.Phase == hands.Settled
}

func (c *Coach) recentre(why string) []cue.Cue {
	if c.stage == "find" {
		c.stage = "centre"
	}
	return c.bring(c.upDrift(), why)
}

// bring asks for the star to be brought to a place, mm.
func (c *Coach) bring(g r2.Vec, why string) []cue.Cue {
	say := cue.Cue{Code: cue.CodeRecentre, Action: cue.Recentre, Reason: why}
	if r2.Norm(r2.Sub(g, c.box().centre)) > 0.1*c.box().half.Y {
		say.Code = cue.CodeRecentrePast
		at := c.toPixels(g)
		say.Goal = &at
	}
	if code := c.pushAs(g); code != "" {
		say.Code = code
	}
	c.pushes++
	return []cue.Cue{say}
}

// mostPushes is how often in a row the star is asked for before the next thing is
// tried from where it is.
const mostPushes = 3

const (
	leastPush = 0.3 // mm: a shorter push has not shown which way it goes
	sameWay   = 0.8 // cosine
	halfWay   = 0.7 // of the last push: a shorter one is asked for as half of it
)

// pushAs names the way to g by the last push, where it lies along that; else it returns "".
func (c *Coach) pushAs(g r2.Vec) string {
	c.learnPush()
	way, was := r2.Sub(g, c.star), r2.Norm(c.lastPush)
	if was == 0 {
		return ""
	}
	half := r2.Norm(way) < halfWay*was
	switch along := r2.Dot(way, c.lastPush) / (r2.Norm(way) * was); {
	case along > sameWay && half:
		return cue.CodeRecentreSameHalf
	case along > sameWay:
		return cue.CodeRecentreSame
	case along < -sameWay && half:
		return cue.CodeRecentreOtherHalf
	case along < -sameWay:
		return cue.CodeRecentreOther
	}
	return ""
}

// accept says at once that a push was enough, unless next asks for another.
func (c *Coach) accept(next []cue.Cue) []cue.Cue {
	if !c.arriving || len(next) == 0 && c.uncentred() > 0 {
		return next
	}
	c.arriving = false
	if len(next) > 0 && (next[0].Action == cue.Recentre || next[0].Action == cue.Done) || !c.visible {
		return next
	}
	return append([]cue.Cue{{Code: cue.CodeCentred, Action: cue.Tell, Reason: "the star is where it is wanted"}}, next...)
}

// leaving asks for a push while something else is waited for, if the star would leave
// the frame before a late hand begins. What was asked for is asked for again afterwards.
func (c *Coach) leaving() []cue.Cue {
	h := &c.hand
	speed, u, whole := c.crossing()
	if !c.visible || speed == 0 || h.back || h.Kind != hands.Turning && h.Kind != hands.Racking {
		return nil
	}
	if h.Kind == hands.Racking && math.Abs(c.radius-h.radius0) > 0.03*h.radius0 {
		return nil // it has begun
	}
	ahead := math.Min(c.pushAhead(), 0.25*whole)
	if c.t-h.SpokenAt < c.usual(c.asked()) {
		ahead = math.Min(ahead, pushWords) // the hand is about to begin
	}
	if c.inset(0.7).holds(r2.Add(c.star, r2.Scale(speed*ahead, u))) || r2.Dot(r2.Sub(c.star, c.box().centre), u) < 0 {
		return nil
	}
	if h.told < repeated && c.gaveWay < mostGivenWay { // else it is given up
		owed := *h
		c.owed = &owed
		c.gaveWay++
	}
	return c.recentre(fmt.Sprintf("the star drifts out of the frame within %.0f seconds", ahead))
}

// mostGivenWay is how often something gives way to a push before it is given up: judgement.
const mostGivenWay = 4

// resume asks for what had to give way to a push, in the same words, unless the hand has
// done it all the same.
func (c *Coach) resume() []cue.Cue {
	if c.owed == nil {
		return nil
	}
	owed := c.owed
	c.owed = nil
	if c.rackedSince(owed) {
		return nil
	}
	say := owed.cue
	if k := c.knobIndex(say.Knob); say.Action == cue.Turn && c.s.Locks && (c.gaveWay > 2 || c.gaveWay > 1 && !c.locks.proven[k]) {
		c.shut(k)
		return nil
	}
	say.Again, say.Reason = true, "the star had to be brought back before it was done"
	return []cue.Cue{say}
}

// halfLarger and halfSmaller are the ring against what it was, after half of the change by a
// quarter that is asked for: judgement.
const (
	halfLarger  = 1.12
	halfSmaller = 0.89
)

// rackedSince reports whether the focuser has done what was asked of a hand that then had to
// push the tube: gone through focus, or made half of the change of the ring.
func (c *Coach) rackedSince(h *hand) bool {
	switch {
	case h.Kind != hands.Racking:
		return false
	case h.cue.Action == cue.OtherSide:
		return c.sideT > h.SpokenAt
	case h.cue.Direction == cue.Less:
		return c.radius < halfSmaller*h.radius0
	}
	return c.radius > halfLarger*h.radius0
}
