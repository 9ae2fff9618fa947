package coach

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"
)

// locks is what is known of the three locks: which are open, and how far each
// moves the axis point when it is snugged, mm.
type locks struct {
	open    [3]bool
	pull    [3]r2.Vec
	pending int // 1 + the knob whose lock is being moved; 0 is none
	way     string
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
	if l.way == Release {
		d = r2.Scale(-1, d)
	}
	l.pull[k] = d
}

// lock asks for the next lock to be released or snugged, or that of one knob.
func (c *Coach) lock(k int, direction string) []Cue {
	if b := c.inset(1.6); !b.holds(c.star) && !c.pushedJustNow() {
		return c.recentre("a lock may move the star out of the frame")
	}
	c.stage = "unlock"
	code := CodeLockRelease
	if direction == Snug {
		code, c.stage = CodeLockSnug, "lock"
	}
	reason := "the knob turns only with its lock released"
	if direction == Snug {
		reason = "trimmed; the lock holds it"
		if p := r2.Norm(c.locks.pull[k]); p > 0 {
			reason += fmt.Sprintf("; it pulled %.2f tolerances before", p/c.o.tol)
		}
	}
	return []Cue{{Code: code, Action: Lock, Knob: c.s.Knobs[k].Name, Direction: direction, Reason: reason}}
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

func (c *Coach) followLock() []Cue {
	h := &c.hand
	if h.phase != settled && c.t-h.out > 3.4 && c.rested() > 0.3 {
		c.enter(settled)
		c.lockFelt()
	}
	return nil
}

// lockFelt ends the watching of a lock.
func (c *Coach) lockFelt() {
	if c.hand.kind == locking {
		if k := c.locks.pending - 1; k >= 0 {
			c.locks.felt(r2.Scale(0.5, c.hand.turned))
			if c.locks.way == Snug {
				c.lockPulled(k)
			}
		}
	}
}

// lockOn names the next lock in a row while a hand is still at the last.
func (c *Coach) lockOn() []Cue {
	if c.hand.cue.Direction == Snug && c.locks.anyOpen() {
		return c.lock(c.locks.next(true), Snug)
	}
	return nil
}
