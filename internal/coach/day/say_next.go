package day

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
	"halocue/internal/observe"
)

// locks is which of the main mirror's locks are open, and what they are for now.
type locks struct {
	open     [3]bool
	snugging bool
	rounds   int // how often they were snugged in vain
}

// lockTime is how long a hand takes to a lock, seconds. Common practice, no source.
const lockTime = 4

// lockNext asks for the next lock to be released, or snugged, if there is one.
func (c *Coach) lockNext() []cue.Cue {
	if !c.s.Locks {
		return nil
	}
	for k, open := range c.locks.open {
		if open != c.locks.snugging {
			continue
		}
		say := cue.Cue{Code: cue.CodeLock, Action: cue.Lock, Knob: c.large.names[k], Direction: cue.Release, Reason: "the knob turns only with its lock released"}
		if c.locks.snugging {
			say.Code, say.Direction, say.Reason = cue.CodeLock, cue.Snug, "on the mark; the lock holds it"
		}
		c.locks.open[k] = !open
		c.hand = hand{Task: hands.Task{Kind: hands.Locking, Phase: hands.Settled, Since: c.t}}
		return []cue.Cue{say}
	}
	return nil
}

// locked reports whether all is snug, or begins to have it so. A lock may pull the
// mirror: then it is trimmed once more.
func (c *Coach) locked() bool {
	if !c.s.Locks {
		return true
	}
	all := !c.locks.open[0] && !c.locks.open[1] && !c.locks.open[2]
	c.locks.snugging = true
	return all
}

// snugGoals is what a lock may take away from a mirror that was within one goal.
const snugGoals = 1.5

// lockPulled has the locks released again, to trim once more; after two such rounds it
// is left to the night.
func (c *Coach) lockPulled() []cue.Cue {
	c.locks.snugging = false
	if c.locks.rounds++; c.locks.rounds > 2 {
		return c.finish(cue.GivenUp, "the locks pull the mirror each time", NextLocks)
	}
	return []cue.Cue{{Code: cue.CodeLockPulls, Action: cue.Warn, Reason: "off the mark since the locks were snugged"}}
}

// look is how long the view must rest before it is judged, seconds.
const look = 0.7

// next returns the next thing to say, while the hands rest and the view is there.
func (c *Coach) next() []cue.Cue {
	switch c.stage {
	case "look":
		if c.small.track.rested() < look {
			return nil
		}
		c.stage = "secondary"
		if c.even() {
			return nil
		}
		return []cue.Cue{{Code: CodeSecondary, Action: cue.Tell, Reason: "the secondary comes first: the main mirror is judged in it"}}
	case "secondary":
		return c.trimSecondary()
	case "plug": // it was asked for and never said
		c.stage, c.plug.phase = "primary", plugUntouched
	case "primary":
		return c.trimPrimary()
	}
	return nil
}

// even reports whether the margin about the mirror is even, beyond doubt.
func (c *Coach) even() bool {
	y, sd := c.small.track.now(look)
	return c.down.Whole && c.small.track.rested() >= look && r2.Norm(y)+2*sd < c.small.goal
}

func (c *Coach) trimSecondary() []cue.Cue {
	s := &c.small
	c.on = s
	if s.track.rested() < look {
		return nil
	}
	if c.gap < 2 {
		return c.trouble(CodeTooSmall, "the mirror's outline is not smaller than the secondary's")
	}
	if c.even() {
		c.stage = "primary"
		c.hand = hand{}
		return append(c.offCentre(), []cue.Cue{
			{Code: CodeEven, Action: cue.Tell, Reason: fmt.Sprintf("the margin is even within %.0f per cent", 100*c.unevenness())},
			{Code: CodePrimary, Action: cue.Tell, Reason: "the secondary is done"},
		}...)
	}
	return c.trim(s)
}

// unevenness is how far the mirror stands from the middle of the secondary, as a
// share of the margin.
func (c *Coach) unevenness() float64 {
	y, _ := c.small.track.now(look)
	return r2.Norm(y) / math.Max(c.gap, 1e-6)
}

// What is tried before it is told that it does not work: turns in one step, which
// clumsy hands keep to half of, and how often the spot is missed. Common practice,
// no source.
const (
	mostTurns = 24
	mostMiss  = 4
)

// givenUpTurning ends a day on which turn after turn does not help: what is taken for the
// reflection is something else, or is measured too coarsely.
func (c *Coach) givenUpTurning(s *step) []cue.Cue {
	next := NextSecondary
	if s == &c.large {
		next = NextHole
	}
	return c.finish(cue.GivenUp, fmt.Sprintf("%d turns, and not within %.1f mm", mostTurns, s.goal), next)
}

// trim asks for the next turn of a step, or ends where that leads nowhere.
func (c *Coach) trim(s *step) []cue.Cue {
	if s.asked++; s.asked > mostTurns {
		return c.givenUpTurning(s)
	}
	y, _ := s.track.now(look)
	m, ok := s.plan(r2.Scale(-1, y))
	if !ok {
		if s == &c.small {
			return c.trouble(CodeScrewLimit, "every turn that would help backs a screw off too far")
		}
		return c.trouble(cue.CodeEndOfScrew, "every turn that would help backs a knob off too far")
	}
	reason := fmt.Sprintf("%.1f mm from true on the mirror, goal %.1f", r2.Norm(y), s.goal)
	if m.goes == (r2.Vec{}) {
		reason = "to learn what it does"
	}
	return c.ask(s, m, cue.CodeTurn, reason)
}

func (c *Coach) trimPrimary() []cue.Cue {
	s := &c.large
	c.on = s
	if cues := c.lockNext(); cues != nil {
		return cues
	}
	if c.t-c.spotted > 2 {
		return c.unspotted()
	}
	if s.track.rested() < look || c.t-c.spotted > 0.3 {
		return nil
	}
	if off := c.markOff(); off > 2.5 && !c.markless && c.plug.phase == plugUntouched && c.tell(CodeMarkOff, math.Inf(1)) {
		return []cue.Cue{{Code: CodeMarkOff, Action: cue.Warn, Reason: fmt.Sprintf("the mark is %.1f mm from the middle of the mirror's outline", off)}}
	}
	goals := 1.0
	if c.locks.snugging {
		goals = snugGoals
	}
	if !c.near(goals) {
		if c.locks.snugging {
			return c.lockPulled()
		}
		return c.trim(s)
	}
	if s.track.rested() < 2*look {
		return nil
	}
	if s.screws.seen == [3]int{} { // what does not answer to a knob is no reflection
		return c.ask(s, move{knob: 0, turns: s.nudge}, cue.CodeTurn, "to see the dark spot answer to a knob")
	}
	if c.plug.phase == plugUntouched || c.plug.phase == plugAllowed {
		return c.askPlug()
	}
	if !c.down.Whole || c.unevenness() > 2*evenness && r2.Norm(r2.Sub(c.down.Primary, c.down.Secondary))*c.scale > 6 {
		c.stage = "secondary" // it was moved meanwhile
		return []cue.Cue{{Code: CodeSecondary, Action: cue.Tell, Reason: "the margin is not even any more"}}
	}
	if !c.locked() {
		return c.lockNext()
	}
	return c.claim(fmt.Sprintf("the reflection is within %.1f mm of the mark", goals*c.large.goal))
}

// near reports whether the reflection stands on the mark within so many goals,
// beyond doubt. The error of one frame is mostly that of the next too, so it does not
// become smaller with their number.
func (c *Coach) near(goals float64) bool {
	y, _ := c.large.track.now(2 * look)
	return c.within(y, goals)
}

// within reports whether a place seen just now, mm, is so near to the mark.
func (c *Coach) within(y r2.Vec, goals float64) bool {
	_, sd := c.large.track.now(2 * look)
	return r2.Norm(y)+math.Hypot(3*sd, 1.5*c.spotSD) < goals*c.large.goal
}

// markOff is how far the mark is from the middle of the mirror's outline, mm.
func (c *Coach) markOff() float64 {
	if !c.down.Whole || !c.down.Marked {
		return 0
	}
	return r2.Norm(r2.Sub(c.down.Mark, c.down.Primary)) * c.scale
}

// unspotted says what is missing for the second step.
func (c *Coach) unspotted() []cue.Cue {
	d := &c.down
	if !d.Marked && !c.markless {
		return c.missing(CodeNoMark, NextMark, "no mark in the middle of the mirror")
	}
	// A small dark spot hides behind the mark: a nudge brings it out.
	if s := &c.large; c.hidden < 4 {
		c.hidden++
		return c.ask(s, move{knob: c.hidden % 3, turns: s.nudge}, cue.CodeTurn, "the dark spot is not seen; it may be behind the mark")
	}
	return c.missing(CodeNoSpot, NextHole, "no dark spot within the secondary's silhouette")
}

// missing says what is not seen, and after a few times gives up for want of it.
func (c *Coach) missing(code, next, reason string) []cue.Cue {
	cues := c.trouble(code, reason)
	if len(cues) > 0 {
		if c.missed++; c.missed > mostMiss {
			return c.finish(cue.GivenUp, reason+", and without it I cannot tell where the mirror points", next)
		}
	}
	return cues
}

// trouble says what hinders, now and then.
func (c *Coach) trouble(code, reason string) []cue.Cue {
	if !c.tell(code, againAfter) {
		return nil
	}
	return []cue.Cue{{Code: code, Action: cue.Warn, Reason: reason}}
}

// tell reports whether a code may be said: not again within so many seconds.
func (c *Coach) tell(code string, every float64) bool {
	if at, ok := c.said[code]; ok && c.t-at < every {
		return false
	}
	c.said[code] = c.t
	c.last = code
	return true
}

// sun warns of a frame flooded with light, whatever else is going on.
func (c *Coach) sun() ([]cue.Cue, bool) {
	if c.why != observe.TooBright || c.visible {
		c.sunny = 0
		return nil, false
	}
	if c.sunny++; c.sunny < 2 {
		return nil, false
	}
	if !c.tell(cue.CodeSun, 8) {
		return nil, true
	}
	return []cue.Cue{{Code: cue.CodeSun, Action: cue.Warn, Reason: "the frame is flooded with light"}}, true
}

// reasons are what is said where nothing can be measured.
var reasons = map[string]string{
	"dark":         CodeDim,
	"no-mirror":    CodeNoMirror,
	"no-secondary": CodeNoRim,
}

// blind says why nothing can be measured, once it has lasted.
func (c *Coach) blind() []cue.Cue {
	code, ok := reasons[c.why]
	if !ok || c.t-c.seen < 3 {
		return nil // an unreadable frame is the caller's to tell
	}
	return c.trouble(code, "nothing to measure: "+c.why)
}
