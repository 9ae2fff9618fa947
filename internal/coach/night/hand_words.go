package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// restFor is how long the star must rest for one movement to be over and the next
// to be another, seconds.
const restFor = 0.5

// pending is a cue that has begun to sound while the star was still on the move by
// what was asked for before: it comes into force when the star rests, or when its
// words are out.
type pending struct {
	cue   cue.Cue
	since float64 // when its words began
	on    bool

	slowest float64 // the star's lowest speed since then, mm/s
	there   r2.Vec  // where the star was
	faster  int     // frames in a row for which it has been much faster again
}

// take puts a cue in force whose words begin now. People begin before the words
// are out, so what moves from now on is its doing.
func (c *Coach) take(cue cue.Cue, t float64) {
	if h := &c.hand; cue.Again && h.phase == waiting && h.kind != idle && cue.Action == h.cue.Action && cue.Knob == h.cue.Knob {
		return // it is in force
	}
	resting := c.rested() >= restFor && (c.hand.kind != racking || c.steady())
	if !resting && c.hand.kind != idle && c.hand.phase != waiting {
		if !c.pending.on {
			c.pending = pending{cue: cue, since: t, on: true, slowest: math.Inf(1)}
		}
		return
	}
	c.pending.on = false
	c.begin(cue, t)
}

// settlePending puts a cue in force that had to wait for the star to rest.
func (c *Coach) settlePending() {
	if !c.pending.on || !c.visible {
		return
	}
	if !c.secondMove() {
		c.take(c.pending.cue, c.t)
		return
	}
	p := c.pending
	c.pending.on = false
	c.begin(p.cue, c.t)
	h := &c.hand
	h.from, h.turned = p.there, r2.Sub(c.star, p.there)
	c.bank.Shift(r2.Scale(0.5, h.turned), 0.15*r2.Norm(h.turned))
}

// secondMove reports whether a push has come to its end and something else moves the
// star now, with hardly a rest between.
func (c *Coach) secondMove() bool {
	const slow, fast = 0.12, 0.3 // mm/s; judgement: a push ends gently, a hand on a knob is quick
	p := &c.pending
	if p.cue.Action != cue.Turn || c.hand.kind != pushing {
		return false
	}
	v, _ := c.track.Velocity()
	speed := r2.Norm(v)
	if speed < p.slowest {
		p.slowest, p.there = speed, c.star
	}
	if p.slowest < slow && speed > fast {
		p.faster++
	} else {
		p.faster = 0
	}
	return p.faster >= 2
}

// wordsOut notes that the words of a cue are out, or were cut off.
func (c *Coach) wordsOut(id int, t float64) {
	if c.pending.on && c.pending.cue.ID == id {
		c.pending.on = false
		c.begin(c.pending.cue, t)
	}
	h := &c.hand
	if h.cue.ID == id && math.IsInf(h.spokenAt, 1) {
		h.spokenAt = t
	}
	if h.phase == waiting {
		h.toldT = t
	}
}
