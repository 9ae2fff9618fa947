package coach

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// framing keeps star and ring where they can be measured.
func (c *Coach) framing() []Cue {
	small := math.Max(math.Min(0.45*c.o.t.RingRadius(c.o.t.BestDefocus()), 0.07*float64(c.height)*c.o.pixel), 0.03*float64(c.height)*c.o.pixel)
	large := c.largest()
	switch {
	case c.radius < small:
		c.stage = "defocus"
		return []Cue{{Code: CodeDefocusMore, Action: Defocus, Direction: More,
			Reason: fmt.Sprintf("ring of %.0f px is too small", c.radius/c.o.pixel)}}
	case c.radius > large:
		c.stage = "defocus"
		return []Cue{{Code: CodeDefocusLess, Action: Defocus, Direction: Less,
			Reason: fmt.Sprintf("ring of %.0f px is too large for the frame", c.radius/c.o.pixel)}}
	}
	if b := c.box(); !b.holds(c.star) || !b.holds(r2.Add(c.star, r2.Scale(6, c.track.drift))) {
		if c.pushedJustNow() && b.holds(c.star) {
			return nil
		}
		return c.recentre("the star is at the frame's edge, or will be soon")
	}
	return nil
}

// largest is the largest ring, mm, that leaves the star room to move.
func (c *Coach) largest() float64 { return 0.36 * float64(c.height) * c.o.pixel }

// pushedJustNow guards against asking twice for what cannot be had.
func (c *Coach) pushedJustNow() bool { return c.hand.kind == pushing && c.hand.phase == settled }

func (c *Coach) recentre(why string) []Cue {
	if c.stage == "find" {
		c.stage = "centre"
	}
	return []Cue{{Code: CodeRecentre, Action: Recentre, Reason: why}}
}

// sun warns of a field flooded with light, danger first: at once, again and
// again, and nothing else is said while it lasts.
func (c *Coach) sun() (cues []Cue, danger bool) {
	const again = 6 // seconds
	if c.why != "too-bright" || c.visible {
		c.sunny = 0
		return nil, false
	}
	c.sunny++
	if c.sunny == 2 || c.sunny > 2 && c.t-c.sunT > again {
		c.sunT, c.stage = c.t, "find"
		return []Cue{{Code: CodeSun, Action: Warn, Reason: "the whole frame is flooded with light"}}, true
	}
	return nil, true
}

// blind says what to do when there is no ring to be measured.
func (c *Coach) blind() []Cue {
	gone := c.t - c.lastFound
	patience := 2.5
	if c.hand.kind == turning {
		patience = 1.2
	}
	if gone < patience || c.t-c.trouble < c.s.Patience.Find || c.why == Unreadable {
		return nil
	}
	c.stage = "find"
	c.trouble = c.t
	why := "no ring: " + c.why
	if c.covered(gone) {
		c.clouded = true
		return []Cue{{Code: CodeCloud, Action: Warn, Reason: why + ", where the star stood still"}}
	}
	switch c.why {
	case "focused":
		return []Cue{{Code: CodeFocused, Action: Defocus, Direction: More, Reason: why}}
	case "no-shadow":
		return []Cue{{Code: CodeDefocusMore, Action: Defocus, Direction: More, Reason: why}}
	case "cut-off":
		if c.midst {
			return []Cue{{Code: CodeDefocusLess, Action: Defocus, Direction: Less, Reason: "the ring is larger than the frame"}}
		}
		return []Cue{{Code: CodeRecentre, Action: Recentre, Reason: why}}
	case "clipped":
		return []Cue{{Code: CodeOverlit, Action: Defocus, Direction: More, Reason: why}}
	case "faint":
		return []Cue{{Code: CodeFaint, Action: Warn, Reason: why}}
	case "blurred":
		return []Cue{{Code: CodeBlurred, Action: Warn, Reason: why}}
	case "two-stars":
		return []Cue{{Code: CodeTwoStars, Action: Warn, Reason: why}}
	}
	if c.belief.n > 0 {
		return []Cue{{Code: CodeStarLost, Action: Recentre, Reason: why}}
	}
	return []Cue{{Code: CodeFindStar, Action: Recentre, Reason: why}}
}
