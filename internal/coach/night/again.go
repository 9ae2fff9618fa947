package night

import (
	"fmt"
	"math"

	"halocue/internal/cue"
)

// What a hand that is late is told, one after the other.
const (
	onItsWay  = iota // nothing yet
	signalled        // a quiet sound
	repeated         // the words again, the same
	asked            // whether the person is ready
)

// overdue waits for a hand that has been asked for something and has not begun. It
// is reminded by its own measure: by a sound, then by the same words, then by a
// question. After that it is given up. Meanwhile nothing else is asked for but
// what cannot wait.
func (c *Coach) overdue() (cues []cue.Cue, givenUp bool) {
	h := &c.hand
	if math.IsInf(h.spokenAt, 1) {
		return nil, false // the words are not out yet
	}
	if cue := c.leaving(); cue != nil {
		return cue, false
	}
	if c.untouched() {
		return c.followedNot("a hand was felt on the knob, and the star did not follow"), false
	}
	wait := c.patience(c.asked())
	late := c.t - math.Max(h.spokenAt, h.toldT)
	switch h.told {
	case onItsWay:
		if late > wait {
			h.told, h.toldT, c.remind = signalled, c.t, true
		}
	case signalled:
		if late > math.Max(0.4*wait, 4) {
			if c.lockUnheard() {
				return c.lock(h.knob, cue.Release), false
			}
			return c.sayAgain(fmt.Sprintf("nothing has moved for %.0f seconds, and this hand usually begins within %.0f", c.t-h.spokenAt, c.usual(c.asked()))), false
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

// lockUnheard reports whether the lock of the knob in hand may not have been
// released: the release was asked for and nothing has followed.
func (c *Coach) lockUnheard() bool {
	h := &c.hand
	return c.s.Locks && h.kind == turning && !c.locks.proven[h.knob]
}

// shut takes a lock for one that was never released.
func (c *Coach) shut(knob int) { c.locks.open[knob], c.locks.proven[knob], c.gaveWay = false, false, 0 }

// untouched reports whether a hand has been at the knob and gone again, and the
// star has not followed: the thread's play has swallowed the turn.
func (c *Coach) untouched() bool {
	const away = 3 // seconds: a hand that feels for its knob turns it by then
	h := &c.hand
	return h.kind == turning && h.felt > 0 && c.t-h.felt > away && c.rested() > away && c.visible
}

// onlyTouched takes back that a turn has begun: the star shook under a hand, and is
// where it was.
func (c *Coach) onlyTouched() {
	c.notYet()
	c.hand.felt = c.t
}

// notYet takes back that the hand has begun.
func (c *Coach) notYet() {
	h := &c.hand
	if all := c.reactions[c.asked()]; h.learned && len(all) > 0 {
		c.reactions[c.asked()] = all[:len(all)-1]
	}
	h.learned = false
	c.enter(waiting)
	h.begun, h.early, h.peak, h.slow, h.from, h.start = false, false, 0, 0, c.track.Now(), c.t
}

// followedNot asks for a turn that was made and moved nothing once more, and
// further.
func (c *Coach) followedNot(why string) []cue.Cue {
	say := c.hand.cue
	c.enter(settled)
	c.repeats++
	say.Code, say.Reason, say.Again = cue.CodeTurnAgain, why, false
	say.Turns = math.Min(math.Max(1.3*say.Turns, 0.05), 1)
	return []cue.Cue{say}
}

// feelFor notes when a hand was last felt on the tube: the star shakes more than
// it does by itself.
func (c *Coach) feelFor() {
	const shaken, still, frames = 9, 3, 5 // times the usual energy, for several frames
	h := &c.hand
	if h.kind != turning || h.phase != waiting {
		return
	}
	switch {
	case c.track.Shaken < still:
		h.trembled, h.calmed = 0, true
	case c.track.Shaken > shaken && h.calmed:
		if h.trembled++; h.trembled >= frames {
			h.felt = c.t
		}
	}
}

// did takes the person's word for it that what was asked for is done.
func (c *Coach) did() []cue.Cue {
	h := &c.hand
	if h.kind == idle || h.phase == settled {
		return nil
	}
	unseen := h.phase == waiting
	switch {
	case h.kind == turning && unseen && c.visible:
		return c.followedNot("the person has turned it, and the star did not follow")
	case h.kind == racking && unseen:
		c.bank.BranchOnFocusSide(0.5) // nobody saw it
		c.sideT = c.t
		c.rackedTo()
	}
	c.skip(c.t)
	return nil
}
