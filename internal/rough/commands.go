package rough

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
)

// Hear takes in what the person said or pressed at time t, seconds.
func (c *Coach) Hear(cmd coach.Command, t float64) coach.Advice {
	if c.done {
		return c.advise(nil)
	}
	return c.advise(c.obey(cmd, t))
}

func (c *Coach) obey(cmd coach.Command, t float64) []coach.Cue {
	switch cmd {
	case coach.Hold:
		c.held = true
		return []coach.Cue{{Code: coach.CodeHold, Action: coach.Wait, Reason: "the person asked for a pause"}}
	case coach.GoOn:
		if c.held {
			c.held = false
			return []coach.Cue{{Code: coach.CodeGoingOn, Action: coach.Tell, Reason: "the person asked to go on"}}
		}
	case coach.Next:
		c.held = false
		return c.skip(t)
	case coach.Back, coach.Undo:
		return c.takeBack()
	case coach.WhichKnob:
		if c.hand.kind != turning || c.hand.phase == settled {
			return []coach.Cue{{Code: coach.CodeNoKnob, Action: coach.Tell, Reason: "no screw is being turned now"}}
		}
		return []coach.Cue{{Code: coach.CodeWhichKnob, Action: coach.Tell, Reason: "asked which screw",
			Args: map[string]any{"name": c.hand.cue.Knob, "direction": c.hand.cue.Direction}}}
	case coach.Status:
		return c.status()
	case coach.Finished:
		if c.stage == "primary" && c.visible && c.near(1) && (c.plug.phase == plugProved || c.plug.phase == plugStays) {
			return c.claim("the person is content, and the reflection is on the mark")
		}
		return c.finish(coach.GivenUp, "the person has ended it", NextAgain)
	}
	return nil
}

// skip takes it that the hand has done what it was asked to do, or that the person
// goes on without.
func (c *Coach) skip(t float64) []coach.Cue {
	h := &c.hand
	switch {
	case h.kind == plugging && h.phase != settled:
		h.out = math.Inf(-1) // its patience is over
	case h.kind == turning && h.phase != settled:
		h.phase, h.since = settled, t
	case c.stage == "primary" && !c.down.Marked && !c.markless:
		c.markless = true
		return []coach.Cue{{Code: coach.CodeGoingOn, Action: coach.Tell, Reason: "without a mark, by the mirror's outline"}}
	}
	return nil
}

// takeBack asks for the last turn to be undone.
func (c *Coach) takeBack() []coach.Cue {
	c.held = false
	h := c.hand
	if h.kind != turning || h.phase == waiting || h.turns == 0 {
		return []coach.Cue{{Code: coach.CodeNoUndo, Action: coach.Tell, Reason: "no turn has been made"}}
	}
	return c.ask(h.on, move{h.knob, -h.turns, r2.Scale(-1, h.goes)}, coach.CodeTurnUndo, "the person asked for it")
}

// status tells how far it is, in goals.
func (c *Coach) status() []coach.Cue {
	y, sd := c.on.track.now(look)
	if !c.visible || c.stage == "look" || math.IsInf(sd, 0) {
		return []coach.Cue{{Code: coach.CodeStatusNot, Action: coach.Tell, Reason: "nothing is known yet"}}
	}
	return []coach.Cue{{Code: coach.CodeStatus, Action: coach.Tell, Reason: "asked how it stands",
		Args: map[string]any{"ratio": r2.Norm(y) / c.on.goal}}}
}
