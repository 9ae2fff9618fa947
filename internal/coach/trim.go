package coach

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// trim asks for the turn that brings the axis point home soonest.
func (c *Coach) trim(a r2.Vec) []Cue {
	c.stage = "trim"
	need := r2.Scale(-1, a)
	var extra [3]float64
	for k, open := range c.locks.open {
		if c.s.Locks && !open {
			extra[k] = lockCost
		}
	}
	m := c.knobs.plan(task{need, c.where(), c.box(), c.trimTo(), extra, c.screws})
	if extra[m.knob] > 0 {
		return c.lock(m.knob, Release)
	}
	return c.ask(m, fmt.Sprintf("axis point %.2f mm off, %.2f tolerances", r2.Norm(a), r2.Norm(a)/c.o.tol))
}

// ask makes a cue of a turn, or of the re-centring that must come before it.
func (c *Coach) ask(m move, why string) []Cue {
	box, star := c.box(), c.where()
	travel := 2 * m.axis
	if modes := c.knobs.modes(); modes != nil {
		room := math.Inf(1)
		full := math.Inf(1)
		for _, o := range modes {
			if o.p < 0.05 && len(modes) > 1 && o.p < 0.5/float64(len(modes)) {
				continue
			}
			u := r2.Scale(m.way, o.dir[m.knob])
			room = math.Min(room, box.room(star, u))
			full = math.Min(full, box.room(box.centre, u))
		}
		if room < travel && room < 0.45*full && !c.pushedJustNow() {
			return c.recentre("no room to turn that way")
		}
		travel = math.Min(travel, math.Max(reachOut*room, 0.1))
	} else {
		c.stage = "learn"
		d := r2.Sub(star, box.centre)
		if room := math.Min(box.half.X-math.Abs(d.X), box.half.Y-math.Abs(d.Y)); room < learnRoom*travel && !c.pushedJustNow() {
			return c.recentre("room is needed to learn what a knob does")
		}
	}
	turns := travel/c.knobs.perTurn(m.knob) + c.knobs.lost(m.knob, m.way)
	turns = math.Min(math.Max(turns, 0.01), 1)
	c.aim = travel
	cue := Cue{
		Code: CodeTurn, Action: Turn, Knob: c.s.Knobs[m.knob].Name, Direction: Tighten, Turns: turns,
		Reason: fmt.Sprintf("%s; the star should go %.2f mm", why, travel),
	}
	if m.way < 0 {
		cue.Direction = Loosen
	}
	if c.lastTurn.way != 0 && c.lastTurn.knob == m.knob {
		cue.Code = CodeTurnMore
		if c.lastTurn.way != m.way {
			cue.Code = CodeTurnBack
			if c.hand.kind == turning && !c.hand.stopped && r2.Norm(c.hand.turned) > 1.45*c.hand.goal && !c.hand.blind {
				cue.Code = CodeTooFar
			}
		}
	}
	c.lastTurn.knob, c.lastTurn.way = m.knob, m.way
	return []Cue{cue}
}
