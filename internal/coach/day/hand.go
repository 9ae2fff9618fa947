package day

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// hand is what the person is doing, as far as the view tells.
type hand struct {
	hands.Task
	cue   cue.Cue
	on    *step
	turns float64 // asked for, > 0 tightens
	goes  r2.Vec  // how far the view may go with it, mm
	from  r2.Vec  // where it was when the words were out
	fromT float64 // when that was seen; NaN where it was not
	again int     // how often it was asked for in vain
	wrong int     // 1 + the screw that was turned instead, or the right one the wrong way; 0 where that is not seen
}

// begin makes the hand do a cue whose words are out at time t.
func (c *Coach) begin(say cue.Cue, t float64) {
	h := &c.hand
	h.cue, h.Phase, h.SpokenAt, h.Since, h.Stopped, h.Corrected = say, hands.Waiting, t, t, false, false
	h.fromT = math.NaN()
	switch say.Action {
	case cue.HalfTurn:
		h.Kind = hands.Plugging
		return
	case cue.Lock:
		h.Kind = hands.Locking
		return
	}
	if s := h.on; len(s.track.pts) > 0 && c.t-s.track.pts[len(s.track.pts)-1].t < 1 {
		h.from, _ = s.track.now(look)
		h.fromT = c.t
	}
}

// follow moves the phase of the hand on, and reports whether there may be something to say
// of it at once.
func (c *Coach) follow() (news bool) {
	h := &c.hand
	h.wrong = 0
	if h.Kind != hands.Turning || h.Phase == hands.Settled || !c.visible {
		return false
	}
	tr := &h.on.track
	if len(tr.pts) == 0 || tr.pts[len(tr.pts)-1].t < c.t {
		return false // what is turned for is out of sight
	}
	if math.IsNaN(h.fromT) { // it came in sight only now
		h.from, h.fromT = tr.pts[len(tr.pts)-1].y, c.t
	}
	switch d := c.gone(0.15); {
	case h.Phase == hands.Waiting:
		if r2.Norm(d) > math.Max(4*tr.jit, 0.35) && tr.moving() {
			h.Enter(hands.Moving, c.t)
			h.again = 0
		} else if y, sd := tr.now(look); c.t-h.SpokenAt > 3 && tr.rested() > look && r2.Norm(r2.Sub(y, h.from)) > math.Max(7*sd, 0.35) {
			h.Enter(hands.Settled, c.t) // it crept
			h.again = 0
			c.learn()
		}
		return h.wrong > 0
	case tr.rested() > 0.5:
		h.Enter(hands.Settled, c.t)
		c.learn()
	case !h.Stopped:
		c.judge(d)
	}
	return true
}

// gone is how far the view has gone with a turn, mm, by its last so many seconds.
func (c *Coach) gone(span float64) r2.Vec {
	now, _ := c.hand.on.track.now(span)
	return r2.Sub(now, c.hand.from)
}

// judge notes a wrong screw or a wrong way by where the view has gone.
func (c *Coach) judge(d r2.Vec) {
	h := &c.hand
	s := h.on
	if h.Corrected || s.screws.seen[h.Knob] == 0 || r2.Norm(d) < math.Max(1, 10*s.track.jit) {
		return
	}
	if k, did, sure := s.screws.posterior(h.Knob, math.Copysign(1, h.turns), d); sure && (k == h.Knob || did != 0) {
		h.wrong = 1 + k
	}
}

// enough reports whether the view will be about where the turn should bring it, if that
// is stopped now: stop is heeded after the word and a reaction.
func (c *Coach) enough() bool {
	h := &c.hand
	goal := r2.Norm(h.goes)
	if goal == 0 {
		return false
	}
	gone := r2.Dot(c.gone(0.15), h.goes) / goal
	ahead := r2.Dot(h.on.track.velocity(), h.goes) / goal * (hands.StopWord + hands.Reaction + c.s.EarDelayS)
	u, _ := h.on.screws.of(h.Knob)
	asked := r2.Norm(u) * math.Abs(h.turns)
	ahead = math.Min(ahead, math.Max(1.35*asked-gone, 0.3*ahead)) // no farther than a rough hand goes
	return gone > 0.3*goal && ahead > 0 && gone+ahead > 1.15*goal && gone+ahead-goal > 0.5*h.on.goal
}

// learn takes a finished turn into what is known of the screws.
func (c *Coach) learn() {
	h, s := &c.hand, c.hand.on
	now, sd := s.track.now(0.5)
	d := r2.Sub(now, h.from)
	if r2.Norm(d) < math.Max(6*sd, 0.2) {
		return
	}
	k, way, sure := s.screws.posterior(h.Knob, math.Copysign(1, h.turns), d)
	if !sure {
		k, way = h.Knob, math.Copysign(1, h.turns)
	}
	turns := way * math.Abs(h.turns)
	switch {
	case sure: // what was done is known, how far is not
		u, _ := s.screws.of(k)
		turns = way * math.Min(r2.Norm(d)/r2.Norm(u), 2*math.Abs(h.turns))
		c.judge(d)
		c.doubt(s)
	case s.screws.known(h.Knob) && r2.Dot(h.goes, d) < 0.5*r2.Norm(h.goes)*r2.Norm(d): // a knock, or what is known is wrong
		c.doubt(s)
	default:
		s.odd = 0
		s.screws.learn(k, turns, d, math.Hypot(1.5*sd, c.blur(s)), h.Stopped)
		if u, _ := s.screws.of(k); s.screws.known(k) {
			turns = math.Copysign(math.Min(math.Abs(r2.Dot(d, u))/r2.Norm2(u), 2*math.Abs(turns)), turns)
		}
	}
	s.turned[k] += turns
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
