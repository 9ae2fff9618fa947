package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// locks is what is known of the three locks: which are open, and how far each
// moves the axis point when it is snugged, mm.
type locks struct {
	open      [3]bool
	proven    [3]bool // a turn has moved the star: the lock is open, or there is none
	pull      [3]r2.Vec
	pending   int // 1 + the knob whose lock is being moved; 0 is none
	direction string
}

// repeats is the share of a lock's pull that comes back when it is snugged
// again. Common practice, no source.
const repeats = 0.75

// pulls returns what the locks that are open now will do to the axis point when
// they are snugged: the trim aims off by as much.
func (l *locks) pulls() r2.Vec {
	var sum r2.Vec
	for k, open := range l.open {
		if open {
			sum = r2.Add(sum, r2.Scale(repeats, l.pull[k]))
		}
	}
	return sum
}

func (l *locks) anyOpen() bool { return l.open[0] || l.open[1] || l.open[2] }

// felt takes in how far the axis point went while the lock in hand was moved.
func (l *locks) felt(d r2.Vec) {
	if l.pending == 0 {
		return
	}
	k := l.pending - 1
	l.pending = 0
	if l.direction == cue.Release {
		d = r2.Scale(-1, d)
	}
	l.pull[k] = d
}

// lock asks for the next lock to be released or snugged, or that of one knob.
func (c *Coach) lock(k int, direction string) []cue.Cue {
	if b := c.inset(1.6); !b.holds(c.star) && !c.pushedJustNow() {
		return c.recentre("a lock may move the star out of the frame")
	}
	c.stage = "unlock"
	code := cue.CodeLockRelease
	if direction == cue.Snug {
		code, c.stage = cue.CodeLockSnug, "lock"
	}
	reason := "the knob turns only with its lock released"
	if direction == cue.Snug {
		reason = "trimmed; the lock holds it"
		if p := r2.Norm(c.locks.pull[k]); p > 0 {
			reason += fmt.Sprintf("; it pulled %.2f tolerances before", p/c.o.Tolerance)
		}
	}
	return []cue.Cue{{Code: code, Action: cue.Lock, Knob: c.s.Knobs[k].Name, Direction: direction, Reason: reason}}
}

// next returns the first lock that is open, or that is not.
func (l *locks) next(open bool) int {
	for k, o := range l.open {
		if o == open {
			return k
		}
	}
	return 0
}

func (c *Coach) followLock() []cue.Cue {
	h := &c.hand
	if h.phase == settled {
		return nil
	}
	if r2.Norm(h.turned) > math.Max(0.05, 5*c.track.Jitter) && c.track.Moving() {
		h.begun, c.atFocuser = true, false
	}
	if c.rested() > 0.3 && (h.begun && c.t-h.spokenAt > 1 || c.t-h.spokenAt > c.lockTakes()) {
		c.enter(settled)
		c.lockFelt()
	}
	return nil
}

// lockTakes is how long after the words a lock must have been moved that did not
// move the star, seconds.
func (c *Coach) lockTakes() float64 {
	const moves = 2.0
	return c.patience(c.asked()) + moves
}

// lockFelt ends the watching of a lock.
func (c *Coach) lockFelt() {
	if c.hand.kind == locking {
		if k := c.locks.pending - 1; k >= 0 {
			c.locks.felt(r2.Scale(0.5, c.hand.turned))
			if c.locks.direction == cue.Snug {
				c.lockPulled(k)
			}
		}
	}
}

// lockOn names the next lock in a row while a hand is still at the last.
func (c *Coach) lockOn() []cue.Cue {
	if c.hand.cue.Direction == cue.Snug && c.locks.anyOpen() {
		return c.lock(c.locks.next(true), cue.Snug)
	}
	return nil
}
