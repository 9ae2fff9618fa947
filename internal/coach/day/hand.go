package day

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

type kind int

const (
	idle kind = iota
	turning
	plugging
	locking
)

type phase int

const (
	waiting phase = iota // asked, nothing has happened yet
	moving
	settled
)

// hand is what the person is doing, as far as the view tells.
type hand struct {
	kind      kind
	phase     phase
	cue       cue.Cue
	on        *step
	knob      int
	turns     float64 // asked for, > 0 tightens
	goes      r2.Vec  // how far the view may go with it, mm
	from      r2.Vec  // where it was when the words were out
	fromT     float64 // when that was seen; NaN where it was not
	spokenAt  float64 // when the words were out
	since     float64 // when the phase began
	stopped   bool
	corrected bool
	again     int // how often it was asked for in vain
}

// ask makes a turn cue of a move.
func (c *Coach) ask(s *step, m move, code, reason string) []cue.Cue {
	c.on = s
	c.hand = hand{kind: turning, phase: settled, on: s, knob: m.knob, turns: m.turns, goes: m.goes, since: c.t, again: c.hand.again}
	say := cue.Cue{Code: code, Action: cue.Turn, Knob: s.names[m.knob], Direction: cue.Tighten, Turns: math.Abs(m.turns), Reason: reason}
	if m.turns < 0 {
		say.Direction = cue.Loosen
	}
	return []cue.Cue{say}
}

// begin makes the hand do a cue whose words are out at time t.
func (c *Coach) begin(say cue.Cue, t float64) {
	h := &c.hand
	h.cue, h.phase, h.spokenAt, h.since, h.stopped, h.corrected = say, waiting, t, t, false, false
	h.fromT = math.NaN()
	switch say.Action {
	case cue.HalfTurn:
		h.kind = plugging
		return
	case cue.Lock:
		h.kind = locking
		return
	}
	if s := h.on; len(s.track.pts) > 0 && c.t-s.track.pts[len(s.track.pts)-1].t < 1 {
		h.from, _ = s.track.now(look)
		h.fromT = c.t
	}
}

func (c *Coach) enter(p phase) { c.hand.phase, c.hand.since = p, c.t }

// follow moves the phase of the hand on, and returns what must be said at once.
func (c *Coach) follow() []cue.Cue {
	h := &c.hand
	if h.kind != turning || h.phase == settled || !c.visible {
		return nil
	}
	tr := &h.on.track
	if len(tr.pts) == 0 || tr.pts[len(tr.pts)-1].t < c.t {
		return nil // what is turned for is out of sight
	}
	if math.IsNaN(h.fromT) { // it came in sight only now
		h.from, h.fromT = tr.pts[len(tr.pts)-1].y, c.t
	}
	now, _ := tr.now(0.15)
	d := r2.Sub(now, h.from)
	if h.phase == waiting {
		if r2.Norm(d) > math.Max(4*tr.jit, 0.35) && tr.moving() {
			c.enter(moving)
			h.again = 0
		} else if y, sd := tr.now(look); c.t-h.spokenAt > 3 && tr.rested() > look && r2.Norm(r2.Sub(y, h.from)) > math.Max(7*sd, 0.35) {
			c.enter(settled) // it crept
			h.again = 0
			return c.learn()
		}
		return nil
	}
	if tr.rested() > 0.5 {
		c.enter(settled)
		return c.learn()
	}
	if h.stopped {
		return nil
	}
	if say, bad := c.wrongHand(d); bad {
		h.stopped, h.corrected = true, true
		return []cue.Cue{say}
	}
	// A stop that is said now is heeded after the word and a reaction.
	goal := r2.Norm(h.goes)
	if goal == 0 {
		return nil
	}
	v := tr.velocity()
	gone := r2.Dot(d, h.goes) / goal
	ahead := r2.Dot(v, h.goes) / goal * (hands.StopWord + hands.Reaction + c.s.EarDelayS)
	u, _ := h.on.screws.of(h.knob)
	asked := r2.Norm(u) * math.Abs(h.turns)
	ahead = math.Min(ahead, math.Max(1.35*asked-gone, 0.3*ahead)) // no farther than a rough hand goes
	if gone > 0.3*goal && ahead > 0 && gone+ahead > 1.15*goal && gone+ahead-goal > 0.5*h.on.goal {
		h.stopped = true
		return []cue.Cue{{Code: cue.CodeStop, Action: cue.Stop, Reason: "the view is about where this turn should bring it"}}
	}
	return nil
}

// wrongHand tells a wrong screw or a wrong way by where the view goes.
func (c *Coach) wrongHand(d r2.Vec) (cue.Cue, bool) {
	h := &c.hand
	s := h.on
	if h.corrected || s.screws.seen[h.knob] == 0 || r2.Norm(d) < math.Max(1, 10*s.track.jit) {
		return cue.Cue{}, false
	}
	k, did, sure := s.screws.posterior(h.knob, math.Copysign(1, h.turns), d)
	switch {
	case !sure:
		return cue.Cue{}, false
	case k == h.knob:
		return cue.Cue{Code: cue.CodeWrongWay, Action: cue.Stop, Knob: h.cue.Knob, Reason: "the view goes the opposite way"}, true
	case did == 0:
		return cue.Cue{}, false
	}
	return cue.Cue{Code: cue.CodeWrongKnob, Action: cue.Stop, Args: map[string]any{"moved": s.names[k]},
		Reason: "the view goes as with the screw " + s.names[k]}, true
}

// learn takes a finished turn into what is known of the screws.
func (c *Coach) learn() []cue.Cue {
	h, s := &c.hand, c.hand.on
	now, sd := s.track.now(0.5)
	d := r2.Sub(now, h.from)
	if r2.Norm(d) < math.Max(6*sd, 0.2) {
		return nil
	}
	k, way, sure := s.screws.posterior(h.knob, math.Copysign(1, h.turns), d)
	if !sure {
		k, way = h.knob, math.Copysign(1, h.turns)
	}
	turns := way * math.Abs(h.turns)
	var said []cue.Cue
	switch {
	case sure: // what was done is known, how far is not
		u, _ := s.screws.of(k)
		turns = way * math.Min(r2.Norm(d)/r2.Norm(u), 2*math.Abs(h.turns))
		if say, bad := c.wrongHand(d); bad {
			say.Action = cue.Warn
			said = []cue.Cue{say}
		}
		c.doubt(s)
	case s.screws.known(h.knob) && r2.Dot(h.goes, d) < 0.5*r2.Norm(h.goes)*r2.Norm(d): // a knock, or what is known is wrong
		c.doubt(s)
	default:
		s.odd = 0
		s.screws.learn(k, turns, d, math.Hypot(1.5*sd, c.blur(s)), h.stopped)
		if u, _ := s.screws.of(k); s.screws.known(k) {
			turns = math.Copysign(math.Min(math.Abs(r2.Dot(d, u))/r2.Norm2(u), 2*math.Abs(turns)), turns)
		}
	}
	s.turned[k] += turns
	return said
}

// blur is what a place of a step's view errs by from one place to the next, mm.
func (c *Coach) blur(s *step) float64 {
	if s == &c.large {
		return c.spotSD
	}
	return math.Max(c.offSigma, s.track.jit)
}

// doubt counts turns in a row that did not answer as predicted. One hand in twenty errs,
// hardly two in a row: then what is known of the screws is wrong, and forgotten.
func (c *Coach) doubt(s *step) {
	if s.odd++; s.odd >= 2 {
		s.screws.reset()
		s.odd = 0
	}
}

// handBusy reports whether a hand is at work or about to be; if it takes too long
// it is asked again.
func (c *Coach) handBusy() ([]cue.Cue, bool) {
	h := &c.hand
	if h.kind == idle || h.phase == settled {
		return nil, false
	}
	late := c.t - h.spokenAt
	switch h.kind {
	case plugging:
		return c.plugBusy()
	case locking:
		if late > lockTime {
			c.enter(settled)
		}
		return nil, late <= lockTime
	}
	switch {
	case !c.visible:
		if late > movePatience && c.t-c.seen > 3 {
			c.enter(settled)
			return nil, false
		}
	case h.on == &c.large && c.t-math.Max(c.spotted, h.spokenAt) > 3: // the reflection has gone behind the mark
		c.enter(settled)
		return nil, false
	case h.phase == waiting && late > movePatience:
		c.enter(settled)
		if math.IsNaN(h.fromT) { // nobody could see whether it moved
			return nil, false
		}
		if h.again++; h.again > 2 || h.on == &c.small && h.turns < 0 {
			// A screw that was backed off unseen is backed off all the same.
			h.on.turned[h.knob] += math.Min(h.turns, 0)
			h.again = 0
			return nil, false
		}
		say := h.cue
		say.Code, say.Reason = cue.CodeNoMovement, "nothing has moved since the cue"
		say.Turns = math.Min(math.Max(1.3*say.Turns, 0.06), 0.5)
		h.turns = math.Copysign(say.Turns, h.turns)
		return []cue.Cue{say}, true
	case h.phase == moving && c.t-h.since > 12:
		c.enter(settled)
		return nil, false
	}
	return nil, true
}
