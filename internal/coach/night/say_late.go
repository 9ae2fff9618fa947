package night

import (
	"fmt"
	"math"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// What a hand that is late is told, one after the other.
const (
	onItsWay  = iota // nothing yet
	signalled        // a quiet sound
	repeated         // the words again, the same
	asked            // whether the person is ready
)

// handBusy reports whether a hand is at work or about to be; one that is late is reminded.
func (c *Coach) handBusy() (cues []cue.Cue, busy bool) {
	h := &c.hand
	switch {
	case !c.atWork():
		return nil, false
	case c.stoppedAtEdge():
		c.learnTurn(c.travelled())
		c.hand.Enter(hands.Settled, c.t)
		return c.recentre("stopped at the frame's edge"), true
	case h.Phase != hands.Waiting || h.Kind == hands.Locking:
		return nil, true
	}
	cues, givenUp := c.overdue()
	if givenUp {
		c.hand.Enter(hands.Settled, c.t)
		if h.Kind == hands.Turning && c.s.Locks {
			c.shut(h.Knob)
		}
		return nil, false
	}
	return cues, true
}

// overdue waits for a hand that has been asked for something and has not begun. It
// is reminded by its own measure: by a sound, then by the same words, then by a
// question. After that it is given up. Meanwhile nothing else is asked for but
// what cannot wait.
func (c *Coach) overdue() (cues []cue.Cue, givenUp bool) {
	h := &c.hand
	if math.IsInf(h.SpokenAt, 1) {
		return nil, false // the words are not out yet
	}
	if cue := c.leaving(); cue != nil {
		return cue, false
	}
	if c.untouched() {
		return c.followedNot("a hand was felt on the knob, and the star did not follow"), false
	}
	wait := c.patience(c.asked())
	late := c.t - math.Max(h.SpokenAt, h.toldT)
	switch h.told {
	case onItsWay:
		if late > wait {
			h.told, h.toldT, c.remind = signalled, c.t, true
		}
	case signalled:
		if late > math.Max(0.4*wait, 4) {
			if c.s.Locks && h.Kind == hands.Turning && !c.locks.proven[h.Knob] { // its lock may not have been released
				return c.lock(h.Knob, cue.Release), false
			}
			return c.sayAgain(fmt.Sprintf("nothing has moved for %.0f seconds, and this hand usually begins within %.0f", c.t-h.SpokenAt, c.usual(c.asked()))), false
		}
	case repeated:
		if late > wait {
			h.told, h.toldT = asked, c.t
			return []cue.Cue{{Code: cue.CodeReady, Action: cue.Tell, Reason: "nothing has moved since the words were said again"}}, false
		}
	default:
		return nil, late > wait
	}
	return nil, false
}

// sayAgain says the cue in force in its own words.
func (c *Coach) sayAgain(why string) []cue.Cue {
	c.hand.told, c.hand.toldT = repeated, c.t
	say := c.hand.cue
	say.Again, say.Reason = true, why
	return []cue.Cue{say}
}

// followedNot asks for a turn that was made and moved nothing once more, and
// further.
func (c *Coach) followedNot(why string) []cue.Cue {
	say := c.hand.cue
	c.hand.Enter(hands.Settled, c.t)
	say.Code, say.Reason, say.Again = cue.CodeNoMovement, why, false
	say.Turns = math.Min(math.Max(1.3*say.Turns, 0.05), 1)
	return []cue.Cue{say}
}
