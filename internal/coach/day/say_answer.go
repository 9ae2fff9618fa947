package day

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/cue"
	"halocue/internal/hands"
)

// Hear takes in what the person said or pressed at time t, seconds.
func (c *Coach) Hear(cmd command.Command, t float64) cue.Advice {
	if c.done {
		return c.advise(nil)
	}
	return c.advise(c.obey(cmd, t))
}

func (c *Coach) obey(cmd command.Command, t float64) []cue.Cue {
	if said := c.pause.Obey(cmd); said != nil {
		return said
	}
	switch cmd {
	case command.Next, command.Did:
		c.pause.On = false
		return c.skip(t)
	case command.TakeTime:
		return []cue.Cue{{Code: cue.CodeTakeTime, Action: cue.Tell, Reason: "asked for time: by day nobody is hurried"}}
	case command.Back, command.Undo:
		return c.takeBack()
	case command.WhichKnob:
		if c.hand.Kind != hands.Turning || c.hand.Phase == hands.Settled {
			return []cue.Cue{{Code: cue.CodeNoKnob, Action: cue.Tell, Reason: "no screw is being turned now"}}
		}
		return []cue.Cue{{Code: cue.CodeWhichKnob, Action: cue.Tell, Reason: "asked which screw",
			Args: map[string]any{"name": c.hand.cue.Knob, "direction": c.hand.cue.Direction}}}
	case command.Status:
		return c.status()
	case command.Finished:
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
	case h.Kind == hands.Plugging && h.Phase != hands.Settled:
		h.SpokenAt = math.Inf(-1) // its patience is over
	case h.Kind == hands.Turning && h.Phase != hands.Settled:
		h.Enter(hands.Settled, t)
	case c.stage == "primary" && !c.down.Marked && !c.markless:
		c.markless = true
		return []cue.Cue{{Code: cue.CodeGoingOn, Action: cue.Tell, Reason: "without a mark, by the mirror's outline"}}
	}
	return nil
}

// takeBack asks for the last turn to be undone.
func (c *Coach) takeBack() []cue.Cue {
	c.pause.On = false
	h := c.hand
	if h.Kind != hands.Turning || h.Phase == hands.Waiting || h.turns == 0 {
		return []cue.Cue{{Code: cue.CodeNoUndo, Action: cue.Tell, Reason: "no turn has been made"}}
	}
	return c.ask(h.on, move{h.Knob, -h.turns, r2.Scale(-1, h.goes)}, cue.CodeTurnUndo, "the person asked for it")
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
