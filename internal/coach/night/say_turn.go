package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// lock asks for the next lock to be released or snugged, or that of one knob.
func (c *Coach) lock(k int, direction string) []cue.Cue {
	if b := c.inset(1.6); !b.holds(c.star) && !c.pushedJustNow() {
		return c.recentre("a lock may move the star out of the frame")
	}
	c.stage = "unlock"
	reason := "the knob turns only with its lock released"
	if direction == cue.Snug {
		c.stage = "lock"
		reason = "trimmed; the lock holds it"
		if p := r2.Norm(c.locks.pull[k]); p > 0 {
			reason += fmt.Sprintf("; it pulled %.2f tolerances before", p/c.o.Tolerance)
		}
	}
	return []cue.Cue{{Code: cue.CodeLock, Action: cue.Lock, Knob: c.s.Knobs[k].Name, Direction: direction, Reason: reason}}
}

// trim asks for the turn that brings the axis point to the target soonest.
func (c *Coach) trim(a r2.Vec) []cue.Cue {
	c.stage = "trim"
	need := r2.Scale(-1, a)
	var extra [3]float64
	for k, open := range c.locks.open {
		if c.s.Locks && !open {
			extra[k] = lockCost
		}
	}
	m := plan(c.knobs, task{need, c.where(), c.box(), c.trimTo(), extra, c.screws})
	if extra[m.knob] > 0 {
		return c.lock(m.knob, cue.Release)
	}
	return c.ask(m, fmt.Sprintf("axis point %.2f mm off, %.2f tolerances", r2.Norm(a), r2.Norm(a)/c.o.Tolerance))
}

// ask makes a cue of a turn, or of the re-centring that must come before it.
func (c *Coach) ask(m move, why string) []cue.Cue {
	box, star := c.box(), c.where()
	travel := 2 * m.axis
	if modes := c.knobs.Orientations(); modes != nil {
		room := math.Inf(1)
		full := math.Inf(1)
		var way r2.Vec
		for _, o := range modes {
			if o.Chance < 0.05 && len(modes) > 1 && o.Chance < 0.5/float64(len(modes)) {
				continue
			}
			u := r2.Scale(m.sign, o.Direction[m.knob])
			if r := box.room(star, u); r < room {
				room, way = r, u
			}
			full = math.Min(full, box.room(box.centre, u))
		}
		if room < travel && room < 0.45*full && !c.pushedJustNow() {
			return c.bring(c.roomFor(way, travel), "no room to turn that way")
		}
		travel = math.Min(travel, math.Max(reachOut*room, 0.1))
	} else {
		c.stage = "learn"
		d := r2.Sub(star, box.centre)
		if room := math.Min(box.half.X-math.Abs(d.X), box.half.Y-math.Abs(d.Y)); room < learnRoom*travel && !c.pushedJustNow() {
			return c.recentre("room is needed to learn what a knob does")
		}
	}
	turns := travel/c.knobs.PerTurn(m.knob) + c.knobs.Backlash(m.knob, m.sign)
	turns = math.Min(math.Max(turns, 0.01), 1)
	c.aim = travel
	say := cue.Cue{
		Code: cue.CodeTurn, Action: cue.Turn, Knob: c.s.Knobs[m.knob].Name, Direction: cue.Tighten, Turns: turns,
		Reason: fmt.Sprintf("%s; the star should go %.2f mm", why, travel),
	}
	if m.sign < 0 {
		say.Direction = cue.Loosen
	}
	h := &c.hand
	if c.lastTurn.sign == -m.sign && c.lastTurn.knob == m.knob &&
		h.Kind == hands.Turning && !h.Stopped && r2.Norm(h.turned) > 1.45*h.goal && !h.blind {
		say.Code = cue.CodeTooFar
	}
	c.lastTurn.knob, c.lastTurn.sign = m.knob, m.sign
	if h.Kind == hands.Turning && !h.begun && h.Knob == m.knob && h.sign == m.sign {
		c.aim, say.Turns, say.Code, say.Again = h.goal, h.cue.Turns, h.cue.Code, true
		say.Reason = "nothing has moved, and it is still to be done"
	}
	return []cue.Cue{say}
}

// takeBack begins to talk the knobs back to where they began, or only the last
// turn.
func (c *Coach) takeBack(all bool) []cue.Cue {
	c.pause.On, c.goBackTo = false, [3]float64{}
	if !all {
		c.goBackTo = c.gone
		c.goBackTo[c.lastTurn.knob] -= c.lastTurn.did
		c.lastTurn.did = 0
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
		c.undoing, c.pause.On = false, true
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
