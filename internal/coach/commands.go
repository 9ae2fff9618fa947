package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Hear takes in what the person said or pressed at time t, seconds. What it
// answers is said like everything else.
func (c *Coach) Hear(cmd Command, t float64) Advice {
	if c.done {
		return c.advise(nil)
	}
	return c.advise(c.obey(cmd, t))
}

func (c *Coach) obey(cmd Command, t float64) []Cue {
	switch cmd {
	case Hold:
		c.held = true
		return []Cue{{Code: CodeHold, Action: Wait, Reason: "the person asked for a pause"}}
	case GoOn:
		if c.held {
			c.held = false
			return []Cue{{Code: CodeGoingOn, Action: Tell, Reason: "the person asked to go on"}}
		}
		c.skip(t)
	case Next:
		c.held = false
		c.skip(t)
	case TurnedSide:
		c.turnedSide(t)
	case Back:
		return c.takeBack(false)
	case Undo:
		return c.takeBack(true)
	case WhichKnob:
		return c.whichKnob()
	case Status:
		return c.status()
	case Finished:
		if c.belief.proven(c.star) && c.visible {
			return c.finish(Aligned, "the person is content, and the proof stands")
		}
		return c.finish(GivenUp, "the person has ended the night")
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

// turnedSide takes the person's word that the focuser went through focus.
func (c *Coach) turnedSide(t float64) {
	c.belief.racked(0.9)
	c.belief.noise.interrupt()
	c.sideT = t
	if c.hand.kind == racking {
		c.hand.phase, c.hand.since = settled, t
	}
}

// takeBack begins to talk the knobs back to where they began, or only the last
// turn.
func (c *Coach) takeBack(all bool) []Cue {
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
	if k, far := c.farthest(); far < enoughBack*c.knobs.perTurn(k) {
		return []Cue{{Code: CodeNoUndo, Action: Tell, Reason: "no turn has been made"}}
	}
	c.undoing = true
	return nil
}

// enoughBack is how near, in turns, a knob must come to where it began.
const enoughBack = 0.012

// farthest returns the knob that is farthest from where it should go back to, and
// how far the star must go for it, mm.
func (c *Coach) farthest() (knob int, way float64) {
	for k := range c.goBackTo {
		if d := math.Abs(c.gone[k] - c.goBackTo[k]); d > way {
			knob, way = k, d
		}
	}
	return knob, way
}

// putBack asks for the next turn on the way back, and rests when all is done.
func (c *Coach) putBack() []Cue {
	c.stage = "trim"
	k, far := c.farthest()
	if far < enoughBack*c.knobs.perTurn(k) {
		c.undoing, c.held = false, true
		return []Cue{{Code: CodeUndone, Action: Tell, Reason: "the knobs are back; waiting for go on"}}
	}
	if c.s.Locks && !c.locks.open[k] {
		return c.lock(k, Release)
	}
	m := move{knob: k, way: 1}
	if c.gone[k] > c.goBackTo[k] {
		m.way = -1
	}
	m.axis = far / 2
	cues := c.ask(m, "taking back the turns that were made")
	if len(cues) == 1 && cues[0].Action == Turn {
		cues[0].Code = CodeTurnUndo
	}
	return cues
}

// whichKnob repeats which knob the hand should be at.
func (c *Coach) whichKnob() []Cue {
	if c.hand.kind != turning && c.hand.kind != locking || c.hand.phase == settled {
		return []Cue{{Code: CodeNoKnob, Action: Tell, Reason: "no knob is being turned now"}}
	}
	return []Cue{{Code: CodeWhichKnob, Action: Tell, Reason: "asked which knob", Args: map[string]any{
		"name": c.hand.cue.Knob, "direction": c.hand.cue.Direction,
	}}}
}

// status tells how true the mirror is, as far as that is known.
func (c *Coach) status() []Cue {
	if c.belief.n < 3 {
		return []Cue{{Code: CodeStatusNot, Action: Tell, Reason: "nothing is known yet"}}
	}
	a, _ := c.belief.axis()
	return []Cue{{Code: CodeStatus, Action: Tell, Reason: "asked how it stands", Args: map[string]any{
		"ratio": r2.Norm(a) / c.o.tol, "waves": c.o.t.ComaRMS(r2.Norm(a)),
		"bound": c.belief.worst(c.star) / c.o.tol, "stage": c.stage,
	}}}
}
