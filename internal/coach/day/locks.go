package day

import (
	"halocue/internal/cue"
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
		c.hand = hand{kind: locking, phase: settled, since: c.t}
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
