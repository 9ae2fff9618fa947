package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/estimate"
)

// lateFor is how long after it was replaced a turn may still be made, seconds.
const lateFor = 30

// letGoFor is how long a hand that has let go in the midst of a turn may take to
// begin again, seconds.
const letGoFor = 6

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

// obeysLate reports whether the star goes as the turn before this one was to make
// it go, whose words somebody only now gets round to: that turn is in force again.
func (c *Coach) obeysLate(d r2.Vec) bool {
	const likely = 0.6
	h, p := &c.hand, &c.past
	if !c.pastOpen() || h.kind == turning && p.knob == h.knob {
		return false
	}
	if r2.Norm(d) < math.Max(0.12, 10*c.track.Jitter) || c.knobs.Orientations() == nil {
		return false
	}
	did := c.knobs.Posterior(p.knob, p.sign, d, c.track.Jitter, false)
	if did[p.knob][estimate.SignIndex(p.sign)] < likely {
		return false
	}
	if h.kind == turning { // and not as this one would
		now := c.knobs.Posterior(h.knob, h.sign, d, c.track.Jitter, false)
		if now[h.knob][estimate.SignIndex(h.sign)] > 0.5 {
			return false
		}
	}
	return true
}

// pastOpen reports whether the turn before this may still be made, or be gone on
// with.
func (c *Coach) pastOpen() bool {
	p := &c.past
	if p.kind != turning || c.t-c.pastT > lateFor {
		return false
	}
	return !p.begun || c.t-c.pastT < letGoFor && !p.stopped && r2.Norm(p.turned) < 0.8*p.goal
}

// doubt allows for the mirror having moved where the tube is said to be pushed: a
// turn that was asked for before may be made late, or the next one early. The axis
// point would go by half of the star's way.
func (c *Coach) doubt(d r2.Vec) {
	const along, share = 0.8, 0.4 // cosine; one-sigma of the share of the star's way
	var knobs []int
	if c.pastOpen() {
		knobs = append(knobs, c.past.knob)
	}
	if c.pending.on && c.pending.cue.Action == cue.Turn {
		knobs = append(knobs, c.knobIndex(c.pending.cue.Knob))
	}
	size := r2.Norm(d)
	fits := false
	for _, k := range knobs {
		modes := c.knobs.Orientations()
		fits = fits || modes == nil
		for _, m := range modes {
			fits = fits || math.Abs(r2.Dot(m.Direction[k], d)) > along*size
		}
	}
	if !fits {
		return
	}
	h := &c.hand
	was := h.doubtful
	h.doubtful += size
	c.bank.Shift(r2.Vec{}, share*math.Sqrt(h.doubtful*h.doubtful-was*was))
	c.moved(r2.Scale(share, d))
}

// recallTurn puts the turn before this one in force again: what the star did since is
// its doing.
func (c *Coach) recallTurn() {
	was := c.hand
	h := c.past
	h.phase, h.since, h.from, h.start, h.turned, h.counted = moving, c.t, was.from, was.start, was.turned, was.counted
	h.peak, h.slow, h.stopped, h.blamed, h.took, h.hidden, h.booked = was.peak, 0, false, false, 0, false, r2.Vec{}
	h.goal = math.Max(h.goal-r2.Norm(c.past.turned), 0.2*h.goal)
	h.begun, h.spokenAt = true, math.Min(h.spokenAt, c.t)
	c.past = hand{}
	c.hand = h
	c.lastTurn.knob, c.lastTurn.sign = h.knob, h.sign
}

// goesOn reports whether a hand that seemed done goes on: it had let go, and has
// taken hold again, or it had been given up, and begins.
func (c *Coach) goesOn() bool {
	const along = 0.85 // cosine
	h := &c.hand
	v, _ := c.track.Velocity()
	size := r2.Norm(v)
	switch h.kind {
	case turning:
		if !h.begun {
			return true
		}
		n := r2.Norm(h.turned)
		return n > 0.1 && math.Abs(r2.Dot(h.turned, v)) > along*n*size
	case pushing:
		way := r2.Sub(c.goal(), c.star)
		return !h.begun || r2.Dot(v, way) > along*size*r2.Norm(way)
	}
	return false
}

// goOn has the hand at work again.
func (c *Coach) goOn() {
	h := &c.hand
	c.began()
	h.peak, h.slow = 0, 0
	c.enter(moving)
}
