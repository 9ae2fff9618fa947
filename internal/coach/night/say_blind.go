package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
	"halocue/internal/observe"
)

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
	if c.hand.Kind == hands.Turning {
		patience = 1.2
	}
	if gone < patience || c.t-c.trouble < findPatience || c.why == observe.Unreadable {
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
		if c.nearMiddle {
			return []cue.Cue{{Code: cue.CodeDefocus, Action: cue.Defocus, Direction: cue.Less, Reason: "the ring is larger than the frame"}}
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
		return []cue.Cue{{Code: cue.CodeDefocus, Action: cue.Defocus, Direction: cue.More, Reason: why}}
	case c.noShadow <= asked:
		return []cue.Cue{{Code: cue.CodeNoShadow, Action: cue.Defocus, Direction: cue.More, Reason: why}}
	}
	return c.warn(cue.CodeStillNoShadow, fmt.Sprintf("%s, after it was asked for more defocus %d times", why, asked))
}

// warn says why no ring can be measured; again, as long as that lasts, after twice the
// time each time, up to a minute.
func (c *Coach) warn(code, why string) []cue.Cue {
	const rarest = 60 // seconds
	c.trouble = c.t + math.Min(findPatience*math.Exp2(float64(c.warned)), rarest) - findPatience
	c.warned++
	return []cue.Cue{{Code: code, Action: cue.Warn, Reason: why}}
}

// turnBack asks for a knob to be turned back that has just taken the star out of sight:
// the person knows which one that is and which way it went, better than the star tells,
// and no push of the tube would find it. It returns
// none where no knob has, or where that was asked for already.
func (c *Coach) turnBack(why string) []cue.Cue {
	const just = 3 // seconds
	h := &c.hand
	if h.Kind != hands.Turning || !h.begun || h.back || h.cue.Turns <= 0 || math.Abs(h.Since-c.lastFound) > just {
		return nil
	}
	c.aim = math.Max(r2.Norm(r2.Sub(c.box().centre, c.star)), 0.3)
	say := cue.Cue{Code: cue.CodeLostByKnob, Action: cue.Turn, Knob: h.cue.Knob, Direction: cue.Loosen, Turns: h.cue.Turns,
		Reason: why + "; a knob was being turned"}
	if h.sign < 0 {
		say.Direction = cue.Tighten
	}
	c.lastTurn.knob, c.lastTurn.sign = h.Knob, -h.sign
	return []cue.Cue{say}
}
