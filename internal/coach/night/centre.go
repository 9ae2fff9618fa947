package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// Bringing the star to where it is wanted, as the tone and the words tell it.
const (
	centred   = 0.2 // of the room for the star: so near to its goal it is near enough
	centreTop = 1.5 // seconds for which the tone tells that it is
)

// centring reports whether the star's way to its goal is what there is to be heard.
func (c *Coach) centring() bool {
	h := &c.hand
	if h.kind == pushing {
		return h.phase != settled || c.t-h.since < centreTop
	}
	return h.kind == idle && c.stage == "centre"
}

// uncentred returns how far the star is from where it is near enough to its goal, mm: 0
// where it is, or where a push was accepted.
func (c *Coach) uncentred() float64 {
	if c.hand.kind == pushing && c.hand.phase == settled && !c.arriving {
		return 0
	}
	return math.Max(r2.Norm(r2.Sub(c.star, c.goal()))-centred*c.box().half.Y, 0)
}

// pushed takes a push for done. It may still be on its last bit of the way.
func (c *Coach) pushed() {
	c.enter(settled)
	c.arriving = true
}

// learnPush keeps how the push in hand has moved the star.
func (c *Coach) learnPush() {
	if c.hand.kind != pushing || len(c.radii) == 0 { // or no star was ever seen
		return
	}
	if d := c.travelled(); r2.Norm(d) > leastPush {
		c.lastPush = d
	}
}

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
