package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/cue"
	"halocue/internal/hands"
)

// Hear takes in what the person said or pressed at time t, seconds. What it
// answers is said like everything else.
func (c *Coach) Hear(cmd command.Command, t float64) cue.Advice {
	if c.done {
		return c.advise(nil)
	}
	return c.advise(c.obey(cmd, t))
}

func (c *Coach) obey(cmd command.Command, t float64) []cue.Cue {
	if said := c.pause.Obey(cmd); said != nil {
		if cmd == command.GoOn {
			c.hand.toldT = t
		}
		return said
	}
	switch cmd {
	case command.GoOn, command.Did:
		c.pause.On = false
		return c.did()
	case command.TakeTime:
		c.unhurried = math.Min(c.unhurried*moreTime, mostUnhurried)
		return []cue.Cue{{Code: cue.CodeTakeTime, Action: cue.Tell, Reason: fmt.Sprintf("asked for time: %.1f times the usual patience", c.unhurried)}}
	case command.AsBefore:
		c.unhurried = math.Max(c.unhurried/moreTime, 1)
		return []cue.Cue{{Code: cue.CodeUndone, Action: cue.Tell, Reason: "the time asked for is taken back"}}
	case command.Next:
		c.pause.On = false
		c.skip(t)
	case command.OtherSide:
		c.turnedSide()
	case command.Back:
		return c.takeBack(false)
	case command.Undo:
		return c.takeBack(true)
	case command.WhichKnob:
		return c.whichKnob()
	case command.Status:
		return c.status()
	case command.Finished:
		if c.bank.Proven(c.star) && c.visible {
			return c.finish(cue.Aligned, "the person is content, and the proof stands")
		}
		return c.finish(cue.GivenUp, "the person has ended the night")
	}
	return nil
}

// did takes the person's word for it that what was asked for is done.
func (c *Coach) did() []cue.Cue {
	h := &c.hand
	if !h.Open() {
		return nil
	}
	unseen := h.Phase == hands.Waiting
	switch {
	case h.Kind == hands.Turning && unseen && c.visible:
		return c.followedNot("the person has turned it, and the star did not follow")
	case h.Kind == hands.Racking && unseen:
		c.bank.BranchOnFocusSide(0.5) // nobody saw it
		c.sideT = c.t
		c.rackedTo()
	}
	c.skip(c.t)
	return nil
}

// whichKnob repeats which knob the hand should be at.
func (c *Coach) whichKnob() []cue.Cue {
	if c.hand.Kind != hands.Turning && c.hand.Kind != hands.Locking || c.hand.Phase == hands.Settled {
		return []cue.Cue{{Code: cue.CodeNoKnob, Action: cue.Tell, Reason: "no knob is being turned now"}}
	}
	return []cue.Cue{{Code: cue.CodeWhichKnob, Action: cue.Tell, Reason: "asked which knob", Args: map[string]any{
		"name": c.hand.cue.Knob, "direction": c.hand.cue.Direction,
	}}}
}

// status tells how true the mirror is, as far as that is known.
func (c *Coach) status() []cue.Cue {
	if c.bank.Frames() < 3 {
		return []cue.Cue{{Code: cue.CodeStatus, Action: cue.Tell, Reason: "nothing is known yet"}}
	}
	a, _ := c.bank.Axis()
	return []cue.Cue{{Code: cue.CodeStatus, Action: cue.Tell, Reason: "asked how it stands", Args: map[string]any{
		"ratio": r2.Norm(a) / c.o.Tolerance, "waves": c.o.Telescope.ComaRMS(r2.Norm(a)),
		"bound": c.bank.UpperBound(c.star) / c.o.Tolerance, "stage": c.stage,
	}}}
}
