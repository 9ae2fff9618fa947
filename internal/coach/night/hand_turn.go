package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/estimate"
	"halocue/internal/hands"
)

// followTurn follows a knob that is turned.
func (c *Coach) followTurn() (underWay bool) {
	h := &c.hand
	d := c.travelled()
	size := r2.Norm(d)
	switch h.Phase {
	case hands.Waiting:
		if h.back && c.fetched() {
			c.hand.Enter(hands.Settled, c.t)
		} else if size > math.Max(0.05, 5*c.track.Jitter) && c.track.Moving() {
			if late := c.lateness(); late > 0.1 && late < 3 {
				c.reaction += 0.2 * (late - c.reaction)
			}
			c.began()
			c.hand.Enter(hands.Moving, c.t)
			c.atFocuser, c.owed = false, nil
		} else if size < math.Max(0.05, 5*c.track.Jitter) && c.rested() > 1.5 {
			h.from, h.start = c.track.Now(), c.t // what the drift was wrong by is no turn
		}
	case hands.Moving:
		if !h.Corrected && c.obeysLate(d) {
			c.recallTurn()
			return false
		}
		if !c.slowed() {
			return !h.Stopped
		}
		if !h.Stopped && size < math.Min(0.25*h.goal, math.Max(0.1, 8*c.track.Jitter)) {
			c.notYet() // the star shook under a hand, and is where it was
			c.hand.felt = c.t
			return false
		}
		c.remarkWrongHand(d)
		c.learnTurn(d)
		c.hand.Enter(hands.Settled, c.t)
	}
	return false
}

// stoppedAtEdge reports whether a turn was stopped where the star must be brought back from
// anyway.
func (c *Coach) stoppedAtEdge() bool {
	h := &c.hand
	if h.Kind != hands.Turning || h.Phase != hands.Moving || !h.Stopped || !c.visible {
		return false
	}
	v, _ := c.track.Velocity()
	return !c.inset(1.3).holds(r2.Add(c.star, r2.Scale(0.5*c.reaction, v)))
}

// obeysLate reports whether the star goes as the turn before this one was to make
// it go, because the hand begins with that one only now: that turn is in force again.
func (c *Coach) obeysLate(d r2.Vec) bool {
	const likely = 0.6
	h, p := &c.hand, &c.past
	if !c.pastOpen() || h.Kind == hands.Turning && p.Knob == h.Knob {
		return false
	}
	if r2.Norm(d) < math.Max(0.12, 10*c.track.Jitter) || c.knobs.Orientations() == nil {
		return false
	}
	did := c.knobs.Posterior(estimate.Turn{Knob: p.Knob, Sign: p.sign, Jump: d, Jitter: c.track.Jitter})
	if did[p.Knob][estimate.SignIndex(p.sign)] < likely {
		return false
	}
	if h.Kind == hands.Turning { // and not as this one would
		now := c.knobs.Posterior(estimate.Turn{Knob: h.Knob, Sign: h.sign, Jump: d, Jitter: c.track.Jitter})
		if now[h.Knob][estimate.SignIndex(h.sign)] > 0.5 {
			return false
		}
	}
	return true
}

// lateFor is how long after it was replaced a turn may still be made, seconds.
const lateFor = 30

// letGoFor is how long a hand that has let go in the midst of a turn may take to
// begin again, seconds.
const letGoFor = 6

// pastOpen reports whether the turn before this may still be made, or be gone on
// with.
func (c *Coach) pastOpen() bool {
	p := &c.past
	if p.Kind != hands.Turning || c.t-c.pastT > lateFor {
		return false
	}
	return !p.begun || c.t-c.pastT < letGoFor && !p.Stopped && r2.Norm(p.turned) < 0.8*p.goal
}

// recallTurn puts the turn before this one in force again: what the star did since is
// its doing.
func (c *Coach) recallTurn() {
	was := c.hand
	h := c.past
	h.Phase, h.Since, h.from, h.start, h.turned, h.counted = hands.Moving, c.t, was.from, was.start, was.turned, was.counted
	h.peak, h.slow, h.Stopped, h.Corrected, h.took, h.hidden, h.booked = was.peak, 0, false, false, 0, false, r2.Vec{}
	h.goal = math.Max(h.goal-r2.Norm(c.past.turned), 0.2*h.goal)
	h.begun, h.SpokenAt = true, math.Min(h.SpokenAt, c.t)
	c.past = hand{}
	c.hand = h
	c.lastTurn.knob, c.lastTurn.sign = h.Knob, h.sign
}

// fetched follows a knob that is turned back out of sight, until the star is seen: the
// mirror has then moved by half of what the star has, whatever was thought when it was
// lost. It reports whether the star rests there.
func (c *Coach) fetched() (rests bool) {
	h := &c.hand
	if !h.inSight {
		h.inSight = true
		c.bank.Shift(r2.Scale(-1, h.strayed), 0.15*r2.Norm(h.strayed))
	}
	return c.rested() > restFor
}

// learnTurn takes a finished turn into the knobs' responses.
func (c *Coach) learnTurn(d r2.Vec) {
	h := &c.hand
	if h.cue.Turns <= 0 {
		return
	}
	if h.took > 0 {
		*c.knobs = c.knew // it was not over yet: it is learned as a whole
	} else {
		c.knew = *c.knobs
	}
	did := c.knobs.Observe(estimate.Turn{Knob: h.Knob, Sign: h.sign, Turns: h.cue.Turns, Jump: d, Jitter: c.track.Jitter,
		Cut: h.Stopped || h.back})
	best, bk, bw := 0.0, 0, 0
	for k := range did {
		for w := range did[k] {
			if did[k][w] > best {
				best, bk, bw = did[k][w], k, w
			}
		}
	}
	if h.took == 0 {
		c.lastTurn.knob, c.lastTurn.did = bk, 0
	}
	h.took, h.tookSign = 1+bk, 1-2*float64(bw)
	if size := r2.Norm(d); size > 0.2 && size > 0.3*h.goal && best > 0.8 { // no gust
		c.locks.proven[bk] = true
	}
	c.book()
	c.screwSpent(bk)
}

// book enters how far the knob that was taken has gone since it was last booked:
// a hand may go on a little after its turn seemed over.
func (c *Coach) book() {
	h := &c.hand
	if h.Kind != hands.Turning || h.took == 0 {
		return
	}
	k := h.took - 1
	gone := h.tookSign * (r2.Norm(h.turned) - r2.Norm(h.booked))
	h.booked = h.turned
	c.gone[k] += gone
	c.screws.turns[k] += gone / c.knobs.PerTurn(k)
	c.lastTurn.did += gone
}

// screws is how far each knob has been turned since the start, > 0 tightened,
// and what the kind of cell allows. How far they were turned before is not
// known, so the limits are those of a screw found in its middle. Common practice,
// no source.
type screws struct {
	turns [3]float64
	kind  string
}

// reach returns how far a screw may be loosened and tightened, turns, and what
// each turn of loosening costs on top.
func (s screws) reach() (loose, tight, dislike float64) {
	switch s.kind {
	case "push-pull": // it holds either way
		return 2.5, 2.5, 0
	case "screws": // the clamp follows, but not far
		return 2, 2.5, 0.3
	}
	return 2, 3, 0.4 // springs: a loose spring lets the mirror slide
}

// cost returns what it costs, in turn cues, to turn knob k by so many turns.
func (s screws) cost(k int, turns float64) float64 {
	loose, tight, dislike := s.reach()
	after := s.turns[k] + turns
	if after < -loose && turns < 0 || after > tight && turns > 0 {
		return 20 // never toward letting the mirror loose, nor binding it
	}
	return dislike * (math.Max(-after, 0) - math.Max(-s.turns[k], 0))
}

// spent reports whether knob k has come near the end of what it may go.
func (s screws) spent(k int) bool {
	loose, tight, _ := s.reach()
	return s.turns[k] < 0.1-loose || s.turns[k] > tight-0.1
}

// unseen is called when no ring is found: a turn that seemed as good as over may
// go on out of sight for as long as a hand takes to stop.
func (c *Coach) unseen() {
	h := &c.hand
	if h.Kind != hands.Turning || h.Phase != hands.Settled || h.hidden || !c.track.Moving() {
		return
	}
	h.hidden = true
	v, _ := c.track.Velocity()
	more := r2.Scale(0.25*c.reaction, v) // of the axis point, half of what may come
	c.bank.Shift(more, r2.Norm(more)+0.02*c.o.Tolerance)
	c.bank.MirrorMoved()
	c.gone[max(h.took-1, 0)] += 2 * h.tookSign * r2.Norm(more)
}

// lostSight is called when the star has left the frame while a knob or a lock was
// turned: how far the mirror went on is not known.
func (c *Coach) lostSight() {
	h := &c.hand
	if h.Kind == hands.Locking {
		c.bank.Shift(r2.Vec{}, 0.3*c.o.Tolerance)
		c.bank.MirrorMoved()
		return
	}
	d := c.travelled()
	size := r2.Norm(d)
	h.Stopped = true
	c.learnTurn(d)
	more := math.Max(1.35*h.goal*math.Exp(c.knobs.PerTurnSD(h.Knob))-size, 0.3*h.goal)
	var u r2.Vec
	if size > 0 {
		u = r2.Scale(1/size, d)
	}
	h.strayed = r2.Scale(0.5*0.4*more, u)
	c.bank.Shift(h.strayed, 0.5*0.5*more+0.1*c.o.Tolerance)
	c.bank.MirrorMoved()
}

// untouched reports whether a hand has been at the knob and gone again, and the
// star has not followed: the thread's play has swallowed the turn.
func (c *Coach) untouched() bool {
	const away = 3 // seconds: a hand that feels for its knob turns it by then
	h := &c.hand
	return h.Kind == hands.Turning && h.felt > 0 && c.t-h.felt > away && c.rested() > away && c.visible
}
