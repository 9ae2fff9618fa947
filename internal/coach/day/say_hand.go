package day

import (
	"math"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// ask makes a turn cue of a move.
func (c *Coach) ask(s *step, m move, code, reason string) []cue.Cue {
	c.on = s
	c.hand = hand{Task: hands.Task{Kind: hands.Turning, Phase: hands.Settled, Knob: m.knob, Since: c.t}, on: s, turns: m.turns, goes: m.goes, again: c.hand.again}
	say := cue.Cue{Code: code, Action: cue.Turn, Knob: s.names[m.knob], Direction: cue.Tighten, Turns: math.Abs(m.turns), Reason: reason}
	if m.turns < 0 {
		say.Direction = cue.Loosen
	}
	return []cue.Cue{say}
}

// interrupt returns what must be said of a turn at once.
func (c *Coach) interrupt() []cue.Cue {
	h := &c.hand
	over := h.Phase == hands.Settled
	switch {
	case h.wrong > 0:
		say := cue.Cue{Code: cue.CodeWrongWay, Action: cue.Stop, Knob: h.cue.Knob, Reason: "the view goes the opposite way"}
		if k := h.wrong - 1; k != h.Knob {
			name := h.on.names[k]
			say = cue.Cue{Code: cue.CodeWrongKnob, Action: cue.Stop, Args: map[string]any{"moved": name}, Reason: "the view goes as with the screw " + name}
		}
		if over {
			say.Action = cue.Warn
		} else {
			h.Stopped, h.Corrected = true, true
		}
		return []cue.Cue{say}
	case !over && !h.Stopped && c.enough():
		h.Stopped = true
		return []cue.Cue{{Code: cue.CodeStop, Action: cue.Stop, Reason: "the view is about where this turn should bring it"}}
	}
	return nil
}

// handBusy reports whether a hand is at work or about to be; if it takes too long
// it is asked again.
func (c *Coach) handBusy() ([]cue.Cue, bool) {
	h := &c.hand
	if !h.Open() {
		return nil, false
	}
	late := c.t - h.SpokenAt
	switch h.Kind {
	case hands.Plugging:
		return c.plugBusy()
	case hands.Locking:
		if late > lockTime {
			c.hand.Enter(hands.Settled, c.t)
		}
		return nil, late <= lockTime
	}
	switch {
	case !c.visible:
		if late > movePatience && c.t-c.seen > 3 {
			c.hand.Enter(hands.Settled, c.t)
			return nil, false
		}
	case h.on == &c.large && c.t-math.Max(c.spotted, h.SpokenAt) > 3: // the reflection has gone behind the mark
		c.hand.Enter(hands.Settled, c.t)
		return nil, false
	case h.Phase == hands.Waiting && late > movePatience:
		c.hand.Enter(hands.Settled, c.t)
		if math.IsNaN(h.fromT) { // nobody could see whether it moved
			return nil, false
		}
		if h.again++; h.again > 2 || h.on == &c.small && h.turns < 0 {
			// A screw that was backed off unseen is backed off all the same.
			h.on.turned[h.Knob] += math.Min(h.turns, 0)
			h.again = 0
			return nil, false
		}
		say := h.cue
		say.Code, say.Reason = cue.CodeNoMovement, "nothing has moved since the cue"
		say.Turns = math.Min(math.Max(1.3*say.Turns, 0.06), 0.5)
		h.turns = math.Copysign(say.Turns, h.turns)
		return []cue.Cue{say}, true
	case h.Phase == hands.Moving && c.t-h.Since > 12:
		c.hand.Enter(hands.Settled, c.t)
		return nil, false
	}
	return nil, true
}
