package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/observe"
)

// framing keeps star and ring where they can be measured.
func (c *Coach) framing() []cue.Cue {
	small := math.Max(math.Min(0.45*c.o.Telescope.RingRadius(c.o.Telescope.BestDefocus()), 0.07*float64(c.height)*c.o.Pixel), 0.03*float64(c.height)*c.o.Pixel)
	large := c.largest()
	switch {
	case c.radius < small:
		c.stage = "defocus"
		return []cue.Cue{{Code: cue.CodeDefocusMore, Action: cue.Defocus, Direction: cue.More,
			Reason: fmt.Sprintf("ring of %.0f px is too small", c.radius/c.o.Pixel)}}
	case c.radius > large:
		c.stage = "defocus"
		return []cue.Cue{{Code: cue.CodeDefocusLess, Action: cue.Defocus, Direction: cue.Less,
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

// largest is the largest ring, mm, that leaves the star room to move.
func (c *Coach) largest() float64 { return 0.36 * float64(c.height) * c.o.Pixel }

// pushedJustNow guards against asking twice for what cannot be had.
func (c *Coach) pushedJustNow() bool { return c.hand.kind == pushing && c.hand.phase == settled }

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

// sun warns of a field flooded with light, danger first: at once, again and
// again, and nothing else is said while it lasts.
func (c *Coach) sun() (cues []cue.Cue, danger bool) {
	const again = 6 // seconds
	if c.why != observe.TooBright || c.visible {
		c.sunny = 0
		return nil, false
	}
	c.sunny++
	if c.sunny == 2 || c.sunny > 2 && c.t-c.sunT > again {
		c.sunT, c.stage = c.t, "find"
		return []cue.Cue{{Code: cue.CodeSun, Action: cue.Warn, Reason: "the whole frame is flooded with light"}}, true
	}
	return nil, true
}

// blind says what to do when there is no ring to be measured.
func (c *Coach) blind() []cue.Cue {
	gone := c.t - c.lastFound
	patience := 2.5
	if c.hand.kind == turning {
		patience = 1.2
	}
	if gone < patience || c.t-c.trouble < c.s.Patience.Find || c.why == observe.Unreadable {
		return nil
	}
	c.stage = "find"
	c.trouble = c.t
	why := "no ring: " + c.why
	if c.covered(gone) {
		c.clouded = true
		return []cue.Cue{{Code: cue.CodeCloud, Action: cue.Warn, Reason: why + ", where the star stood still"}}
	}
	switch c.why {
	case "focused":
		return []cue.Cue{{Code: cue.CodeFocused, Action: cue.Defocus, Direction: cue.More, Reason: why}}
	case "no-shadow":
		return c.shadowless(why)
	case "cut-off":
		if c.midst {
			return []cue.Cue{{Code: cue.CodeDefocusLess, Action: cue.Defocus, Direction: cue.Less, Reason: "the ring is larger than the frame"}}
		}
		return []cue.Cue{{Code: cue.CodeRecentre, Action: cue.Recentre, Reason: why}}
	case "clipped":
		return []cue.Cue{{Code: cue.CodeOverlit, Action: cue.Defocus, Direction: cue.More, Reason: why}}
	case "faint":
		return c.warn(cue.CodeFaint, why)
	case "blurred":
		return c.warn(cue.CodeBlurred, why)
	case "two-stars":
		return c.warn(cue.CodeTwoStars, why)
	}
	if cues := c.turnBack(why); cues != nil {
		return cues
	}
	if c.bank.Frames() > 0 {
		return []cue.Cue{{Code: cue.CodeStarLost, Action: cue.Recentre, Reason: why}}
	}
	return []cue.Cue{{Code: cue.CodeFindStar, Action: cue.Recentre, Reason: why}}
}

// shadowless asks for more defocus where the disc shows no shadow: twice as for any
// small ring, then with the reason. After that more of it will not help either, and it
// says, now and then, what else hides a shadow.
func (c *Coach) shadowless(why string) []cue.Cue {
	const short, asked = 2, 3
	switch c.noShadow++; {
	case c.noShadow <= short:
		return []cue.Cue{{Code: cue.CodeDefocusMore, Action: cue.Defocus, Direction: cue.More, Reason: why}}
	case c.noShadow <= asked:
		return []cue.Cue{{Code: cue.CodeNoShadow, Action: cue.Defocus, Direction: cue.More, Reason: why}}
	}
	return c.warn(cue.CodeStillNoShadow, fmt.Sprintf("%s, after it was asked for more defocus %d times", why, asked))
}

// warn says why no ring can be measured; again, as long as that lasts, after twice the
// time each time, up to a minute.
func (c *Coach) warn(code, why string) []cue.Cue {
	const rarest = 60 // seconds
	c.trouble = c.t + math.Min(c.s.Patience.Find*math.Exp2(float64(c.warned)), rarest) - c.s.Patience.Find
	c.warned++
	return []cue.Cue{{Code: code, Action: cue.Warn, Reason: why}}
}
