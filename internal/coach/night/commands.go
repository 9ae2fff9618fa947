package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// Hear takes in what the person said or pressed at time t, seconds. What it
// answers is said like everything else.
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
			c.held, c.hand.toldT = false, t
			return []cue.Cue{{Code: cue.CodeGoingOn, Action: cue.Tell, Reason: "the person asked to go on"}}
		}
		return c.did()
	case cue.Did:
		c.held = false
		return c.did()
	case cue.TakeTime:
		return c.slowDown()
	case cue.AsBefore:
		return c.asBefore()
	case cue.Next:
		c.held = false
		c.skip(t)
	case cue.TurnedSide:
		c.turnedSide()
	case cue.Back:
		return c.takeBack(false)
	case cue.Undo:
		return c.takeBack(true)
	case cue.WhichKnob:
		return c.whichKnob()
	case cue.Status:
		return c.status()
	case cue.Finished:
		if c.bank.Proven(c.star) && c.visible {
			return c.finish(cue.Aligned, "the person is content, and the proof stands")
		}
		return c.finish(cue.GivenUp, "the person has ended the night")
	}
	return nil
}

// skip takes it that the hand has done what it was asked to do.
func (c *Coach) skip(t float64) {
	if c.hand.kind != idle && c.hand.phase != settled {
		if c.hand.kind == racking && c.hand.phase == moving {
			c.racked()
		}
		c.hand.phase, c.hand.since = settled, t
	}
}

// takeBack begins to talk the knobs back to where they began, or only the last
// turn.
func (c *Coach) takeBack(all bool) []cue.Cue {
	c.held = false
	if !all {
		for k := range c.goBackTo {
			c.goBackTo[k] = c.gone[k]
		}
		k := c.lastTurn.knob
		c.goBackTo[k] -= c.lastTurn.did
		c.lastTurn.did = 0
	} else {
		c.goBackTo = [3]float64{}
	}
	if k, far := c.farthest(); far < enoughBack*c.knobs.PerTurn(k) {
		return []cue.Cue{{Code: cue.CodeNoUndo, Action: cue.Tell, Reason: "no turn has been made"}}
	}
	c.undoing = true
	return nil
}

// enoughBack is how near, in turns, a knob must come to where it began.
const enoughBack = 0.012

// farthest returns the knob that is farthest from where it should go back to, and
// how far the star must go for it, mm.
func (c *Coach) farthest() (knob int, far float64) {
	for k := range c.goBackTo {
		if d := math.Abs(c.gone[k] - c.goBackTo[k]); d > far {
			knob, far = k, d
		}
	}
	return knob, far
}

// putBack asks for the next turn on the way back, and rests when all is done.
func (c *Coach) putBack() []cue.Cue {
	c.stage = "trim"
	k, far := c.farthest()
	if far < enoughBack*c.knobs.PerTurn(k) {
		c.undoing, c.held = false, true
		return []cue.Cue{{Code: cue.CodeUndone, Action: cue.Tell, Reason: "the knobs are back; waiting for go on"}}
	}
	if c.s.Locks && !c.locks.open[k] {
		return c.lock(k, cue.Release)
	}
	m := move{knob: k, sign: 1}
	if c.gone[k] > c.goBackTo[k] {
		m.sign = -1
	}
	m.axis = far / 2
	cues := c.ask(m, "taking back the turns that were made")
	if len(cues) == 1 && cues[0].Action == cue.Turn {
		cues[0].Code = cue.CodeTurnUndo
	}
	return cues
}

// whichKnob repeats which knob the hand should be at.
func (c *Coach) whichKnob() []cue.Cue {
	if c.hand.kind != turning && c.hand.kind != locking || c.hand.phase == settled {
		return []cue.Cue{{Code: cue.CodeNoKnob, Action: cue.Tell, Reason: "no knob is being turned now"}}
	}
	return []cue.Cue{{Code: cue.CodeWhichKnob, Action: cue.Tell, Reason: "asked which knob", Args: map[string]any{
		"name": c.hand.cue.Knob, "direction": c.hand.cue.Direction,
	}}}
}

// status tells how true the mirror is, as far as that is known.
func (c *Coach) status() []cue.Cue {
	if c.bank.Frames() < 3 {
		return []cue.Cue{{Code: cue.CodeStatusNot, Action: cue.Tell, Reason: "nothing is known yet"}}
	}
	a, _ := c.bank.Axis()
	return []cue.Cue{{Code: cue.CodeStatus, Action: cue.Tell, Reason: "asked how it stands", Args: map[string]any{
		"ratio": r2.Norm(a) / c.o.Tolerance, "waves": c.o.Telescope.ComaRMS(r2.Norm(a)),
		"bound": c.bank.UpperBound(c.star) / c.o.Tolerance, "stage": c.stage,
	}}}
}
