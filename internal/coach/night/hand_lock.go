package night

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// locks is what is known of the three locks: which are open, and how far each
// moves the axis point when it is snugged, mm.
type locks struct {
	open   [3]bool
	proven [3]bool // a turn has moved the star: the lock is open, or there is none
	pull   [3]r2.Vec
}

// pullsAgain is the share of a lock's pull that comes back when it is snugged
// again. Common practice, no source.
const pullsAgain = 0.75

// pulls returns what the locks that are open now will do to the axis point when
// they are snugged: the trim allows for as much.
func (l *locks) pulls() r2.Vec {
	var sum r2.Vec
	for k, open := range l.open {
		if open {
			sum = r2.Add(sum, r2.Scale(pullsAgain, l.pull[k]))
		}
	}
	return sum
}

func (l *locks) anyOpen() bool { return l.open[0] || l.open[1] || l.open[2] }

// next returns the first lock that is open.
func (l *locks) next() int { return max(0, slices.Index(l.open[:], true)) }

// followLock follows a lock that is moved, which need not move the star.
func (c *Coach) followLock() {
	const takes = 2.0 // seconds, once the hand is there
	h := &c.hand
	if h.Phase == hands.Settled {
		return
	}
	if r2.Norm(h.turned) > math.Max(0.05, 5*c.track.Jitter) && c.track.Moving() {
		h.begun, c.atFocuser = true, false
	}
	if c.rested() > 0.3 && (h.begun && c.t-h.SpokenAt > 1 || c.t-h.SpokenAt > c.patience(c.asked())+takes) {
		c.hand.Enter(hands.Settled, c.t)
		c.lockFelt()
	}
}

// lockFelt takes in, once, how far the axis point went while the lock in hand was moved.
func (c *Coach) lockFelt() {
	h := &c.hand
	if h.Kind != hands.Locking || h.took > 0 {
		return
	}
	h.took = 1 + h.Knob
	c.locks.pull[h.Knob] = r2.Scale(0.5, h.turned)
	if h.cue.Direction == cue.Release {
		c.locks.pull[h.Knob] = r2.Scale(-0.5, h.turned)
		return
	}
	c.lockPulled(h.Knob)
}

// shut takes a lock for one that was never released.
func (c *Coach) shut(knob int) { c.locks.open[knob], c.locks.proven[knob], c.gaveWay = false, false, 0 }
