package day

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// Hear takes in what the person said or pressed at time t, seconds.
func (c *Coach) Hear(cmd cue.Command, t float64) cue.Advice {
	if c.done {
		return c.advise(nil)
	}
	return c.advise(c.obey(cmd, t))
}

func (c *Coach) obey(cmd cue.Command, t float64) []cue.Cue {
	switch cmd {
	case cue.Hold:
		c.held = true
		return []cue.Cue{{Code: cue.CodeHold, Action: cue.Wait, Reason: "the person asked for a pause"}}
	case cue.GoOn:
		if c.held {
			c.held = false
			return []cue.Cue{{Code: cue.CodeGoingOn, Action: cue.Tell, Reason: "the person asked to go on"}}
		}
	case cue.Next, cue.Did:
		c.held = false
		return c.skip(t)
	case cue.TakeTime:
		return []cue.Cue{{Code: cue.CodeTakeTime, Action: cue.Tell, Reason: "asked for time: by day nobody is hurried"}}
	case cue.Back, cue.Undo:
		return c.takeBack()
	case cue.WhichKnob:
		if c.hand.kind != turning || c.hand.phase == settled {
			return []cue.Cue{{Code: cue.CodeNoKnob, Action: cue.Tell, Reason: "no screw is being turned now"}}
		}
		return []cue.Cue{{Code: cue.CodeWhichKnob, Action: cue.Tell, Reason: "asked which screw",
			Args: map[string]any{"name": c.hand.cue.Knob, "direction": c.hand.cue.Direction}}}
	case cue.Status:
		return c.status()
	case cue.Finished:
		if c.stage == "primary" && c.visible && c.near(1) && (c.plug.phase == plugProved || c.plug.phase == plugStays) {
			return c.claim("the person is content, and the reflection is on the mark")
		}
		return c.finish(cue.GivenUp, "the person has ended it", NextAgain)
	}
	return nil
}

// skip takes it that the hand has done what it was asked to do, or that the person
// goes on without.
func (c *Coach) skip(t float64) []cue.Cue {
	h := &c.hand
	switch {
	case h.kind == plugging && h.phase != settled:
		h.spokenAt = math.Inf(-1) // its patience is over
	case h.kind == turning && h.phase != settled:
		h.phase, h.since = settled, t
	case c.stage == "primary" && !c.down.Marked && !c.markless:
		c.markless = true
		return []cue.Cue{{Code: cue.CodeGoingOn, Action: cue.Tell, Reason: "without a mark, by the mirror's outline"}}
	}
	return nil
}

// takeBack asks for the last turn to be undone.
func (c *Coach) takeBack() []cue.Cue {
	c.held = false
	h := c.hand
	if h.kind != turning || h.phase == waiting || h.turns == 0 {
		return []cue.Cue{{Code: cue.CodeNoUndo, Action: cue.Tell, Reason: "no turn has been made"}}
	}
	return c.ask(h.on, move{h.knob, -h.turns, r2.Scale(-1, h.goes)}, cue.CodeTurnUndo, "the person asked for it")
}

// status tells how far it is, in goals.
func (c *Coach) status() []cue.Cue {
	y, sd := c.on.track.now(look)
	if !c.visible || c.stage == "look" || math.IsInf(sd, 0) {
		return []cue.Cue{{Code: cue.CodeStatus, Action: cue.Tell, Reason: "nothing is known yet"}}
	}
	return []cue.Cue{{Code: cue.CodeStatus, Action: cue.Tell, Reason: "asked how it stands",
		Args: map[string]any{"ratio": r2.Norm(y) / c.on.goal}}}
}
