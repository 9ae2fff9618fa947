package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/estimate"
)

func (c *Coach) followTurn() []cue.Cue {
	h := &c.hand
	d := c.travelled()
	size := r2.Norm(d)
	switch h.phase {
	case waiting:
		if h.back && c.fetched() {
			c.enter(settled)
		} else if size > math.Max(0.05, 5*c.track.Jitter) && c.track.Moving() {
			c.learnReaction(c.t - h.spokenAt)
			c.began()
			c.enter(moving)
			c.repeats, c.atFocuser, c.owed = 0, false, nil
		} else if size < math.Max(0.05, 5*c.track.Jitter) && c.rested() > 1.5 {
			h.from, h.start = c.track.Now(), c.t // what the drift was wrong by is no turn
		}
	case moving:
		if !h.blamed && c.obeysLate(d) {
			c.recallTurn()
			return nil
		}
		if c.slowed() {
			if !h.stopped && size < math.Min(0.25*h.goal, math.Max(0.1, 8*c.track.Jitter)) {
				c.onlyTouched()
				return nil
			}
			if say, bad := c.wrongHand(d); bad { // over already, but worth a word
				say.Action = cue.Warn
				c.noted.add(say)
			}
			c.learnTurn(d)
			c.enter(settled)
			return nil
		}
		if h.stopped {
			return nil
		}
		v, _ := c.track.Velocity()
		ahead := c.coming(size, v)
		if c.bothHands(d) {
			h.stopped, h.blamed = true, true
			return []cue.Cue{{Code: cue.CodeBothHand, Action: cue.Wait, Reason: "the star goes between two knobs' ways"}}
		}
		if say, bad := c.wrongHand(d); bad {
			h.stopped, h.blamed = true, true
			return []cue.Cue{say}
		}
		edge := c.edge()
		if at := r2.Add(c.star, ahead); !edge.holds(at) && r2.Dot(r2.Sub(at, edge.centre), v) > 0 {
			h.stopped = true
			return []cue.Cue{{Code: cue.CodeStopEdge, Action: cue.Stop, Reason: "the star is about to leave the frame"}}
		}
		if !h.blind && size+r2.Norm(ahead) > 1.1*h.goal && size > 0.3*h.goal && r2.Norm(v) > 0.1 && (c.undoing || c.overshoots(v, ahead)) {
			h.stopped = true
			return []cue.Cue{{Code: cue.CodeStop, Action: cue.Stop, Reason: "the axis point is where this turn should bring it"}}
		}
	}
	return nil
}

// learnReaction takes in how long after the words the star was seen to move. The
// earpiece's delay is part of it, and so is the time until a move shows, some
// 0.3 s.
func (c *Coach) learnReaction(late float64) {
	const shows = 0.3
	if late = late - shows - c.s.EarDelayS; late > 0.1 && late < 3 {
		c.reaction += 0.2 * (late - c.reaction)
	}
}

// nearEdge reports whether the star, stopped, will be where it must be brought
// back from anyway.
func (c *Coach) nearEdge() bool {
	v, _ := c.track.Velocity()
	return !c.inset(1.3).holds(r2.Add(c.star, r2.Scale(0.5*c.reaction, v)))
}

// stopWord is how long the word takes, seconds.
const stopWord = 0.45

// coming returns how far the star will still go before a stop said now is
// heeded: on at its speed for the word, the ear and the reaction, but no farther
// than a rough hand takes what was asked.
func (c *Coach) coming(gone float64, v r2.Vec) r2.Vec {
	speed := r2.Norm(v)
	if speed == 0 {
		return r2.Vec{}
	}
	way := speed * (stopWord + c.reaction + c.s.EarDelayS)
	most := 1.25 * c.hand.goal * math.Exp(0.5*c.knobs.PerTurnSD(c.hand.knob))
	return r2.Scale(math.Min(way, math.Max(most-gone, 0.3*speed))/speed, v)
}

// overshoots reports whether the axis point would be well past its best place on
// this line once the star has gone on by ahead.
func (c *Coach) overshoots(v, ahead r2.Vec) bool {
	a, _ := c.bank.Axis()
	a = r2.Add(a, c.locks.pulls())
	return r2.Dot(r2.Add(a, r2.Scale(0.5, ahead)), r2.Unit(v)) > 0.2*c.o.Tolerance
}

// wrongHand tells a wrong knob or a wrong way by the star's direction, once what
// was asked for has become improbable.
func (c *Coach) wrongHand(d r2.Vec) (cue.Cue, bool) {
	const improbable, sure = 0.05, 0.8
	h := &c.hand
	if r2.Norm(d) < math.Max(0.12, 10*c.track.Jitter) || c.knobs.Orientations() == nil || h.blamed {
		return cue.Cue{}, false
	}
	did := c.knobs.Posterior(h.knob, h.sign, d, c.track.Jitter, false)
	asked := estimate.SignIndex(h.sign)
	switch {
	case did[h.knob][asked] > improbable:
		return cue.Cue{}, false
	case did[h.knob][1-asked] > sure:
		return cue.Cue{Code: cue.CodeWrongWay, Action: cue.Stop, Knob: h.cue.Knob, Reason: "the star goes the opposite way"}, true
	}
	cue := cue.Cue{Code: cue.CodeWrongKnob, Action: cue.Stop, Reason: "the star does not go as with the knob that was named"}
	for k := range did {
		if k != h.knob && did[k][0]+did[k][1] > sure {
			name := c.s.Knobs[k].Name
			cue.Args, cue.Reason = map[string]any{"moved": name}, "the star goes as with the knob "+name
		}
	}
	return cue, true
}

// book enters how far the knob that was taken has gone since it was last booked:
// a hand may go on a little after its turn seemed over.
func (c *Coach) book() {
	h := &c.hand
	if h.kind != turning || h.took == 0 {
		return
	}
	k := h.took - 1
	gone := h.tookSign * (r2.Norm(h.turned) - r2.Norm(h.booked))
	h.booked = h.turned
	c.gone[k] += gone
	c.screws.turns[k] += gone / c.knobs.PerTurn(k)
	c.lastTurn.did += gone
}

// bothHands reports whether the star goes a way that no single knob moves it,
// and far enough to be sure.
func (c *Coach) bothHands(d r2.Vec) bool {
	if r2.Norm(d) < math.Max(0.3, 20*c.track.Jitter) || !c.knobs.Certain() || c.hand.blamed {
		return false
	}
	near := math.Inf(1)
	for _, o := range c.knobs.Orientations() {
		for k := range o.Direction {
			cos := math.Abs(r2.Dot(o.Direction[k], d)) / r2.Norm(d)
			near = math.Min(near, math.Acos(math.Min(cos, 1)))
		}
	}
	return near > 22*math.Pi/180
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
	did := c.knobs.Observe(h.knob, h.sign, h.cue.Turns, d, c.track.Jitter, h.stopped || h.back)
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

// unseen is called when no ring is found: a turn that seemed as good as over may
// go on out of sight for as long as a hand takes to stop.
func (c *Coach) unseen() {
	h := &c.hand
	if h.kind != turning || h.phase != settled || h.hidden || !c.track.Moving() {
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
	if h.kind == locking {
		c.bank.Shift(r2.Vec{}, 0.3*c.o.Tolerance)
		c.bank.MirrorMoved()
		return
	}
	d := c.travelled()
	size := r2.Norm(d)
	h.stopped = true
	c.learnTurn(d)
	more := math.Max(1.35*h.goal*math.Exp(c.knobs.PerTurnSD(h.knob))-size, 0.3*h.goal)
	var u r2.Vec
	if size > 0 {
		u = r2.Scale(1/size, d)
	}
	h.strayed = r2.Scale(0.5*0.4*more, u)
	c.bank.Shift(h.strayed, 0.5*0.5*more+0.1*c.o.Tolerance)
	c.bank.MirrorMoved()
}
