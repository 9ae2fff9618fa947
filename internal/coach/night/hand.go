package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// hand is what the person is doing, as far as the star tells.
type hand struct {
	hands.Task
	cue   cue.Cue
	sign  float64 // of a turn: +1 tightens
	from  r2.Vec  // where the star was when the words began
	start float64 // the time of from

	turned  r2.Vec  // the star's way since then, beyond drift
	counted float64 // variance of the axis point already allowed for it, mm^2
	goal    float64 // of a turn: how far the star should go, mm
	peak    float64 // the star's highest speed, mm/s
	slow    int     // frames in a row in which it was slow compared with that
	blind   bool    // it was not known yet which way the star would go

	took     int     // 1 + the knob that was really taken, once that is known
	tookSign float64 // and which way
	hidden   bool    // the star left the frame as the turn came to its end
	booked   r2.Vec  // how much of turned has been added to the screws

	doubtful float64 // how far the star went by what may have been a turn, mm
	walks    bool    // the hand has to come from the focuser
	begun    bool    // something has moved
	learned  bool    // and how late that was has been added to the reactions
	early    bool    // and it moved while the words were still being said
	told     int     // how far the reminding has come: onItsWay, signalled, ...
	toldT    float64 // when that was last
	felt     float64 // when a hand was last felt on the knob; 0 never
	trembled int     // frames in which the star has shaken since it was calm
	calmed   bool    // the star was calm at some time since this was asked for
	unseen   bool    // there was no ring when it was asked for

	radius0, least float64 // of a racking: the ring before, and the least seen
	lost           float64 // seconds for which no ring could be measured
	back           bool    // of a turn: it brings back a star that the knob took out of sight
	inSight        bool    // and the star is seen again
	strayed        r2.Vec  // how far the axis point is thought to have gone out of sight, mm
	through        bool    // it went through focus, as was seen or said
}

// begin makes the hand do a cue whose words begin at time t.
func (c *Coach) begin(say cue.Cue, t float64) {
	c.lockFelt()
	c.book()
	c.learnPush()
	if c.hand.Kind == hands.Turning {
		c.past, c.pastT = c.hand, c.t
	}
	if c.hand.Kind == hands.Racking && c.hand.Phase == hands.Moving {
		c.racked() // where it ended was not seen
	}
	if say.Action != cue.Recentre {
		c.pushes = 0
	}
	h := hand{Task: hands.Task{SpokenAt: math.Inf(1), Since: t}, cue: say, toldT: t, from: c.star, start: c.t, walks: c.atFocuser}
	switch say.Action {
	case cue.Turn:
		h.Kind, h.Knob, h.sign = hands.Turning, c.knobIndex(say.Knob), 1
		if say.Direction == cue.Loosen {
			h.sign = -1
		}
		h.goal, h.blind = c.aim, c.stage == "learn"
		if say.Code == cue.CodeLostByKnob {
			h.back, h.begun, h.Corrected, h.strayed = true, true, true, c.hand.strayed
		}
	case cue.Recentre:
		h.Kind = hands.Pushing
	case cue.Defocus, cue.OtherSide:
		h.Kind, h.radius0, h.least, h.unseen = hands.Racking, c.radius, c.radius, !c.visible
		c.atFocuser = true
	case cue.Lock:
		h.Kind, h.Knob = hands.Locking, c.knobIndex(say.Knob)
		c.locks.open[h.Knob] = say.Direction == cue.Release
	}
	c.hand = h
}

func (c *Coach) knobIndex(name string) int { return max(0, cue.KnobIndex(c.s.Knobs, name)) }

// follow moves the phase of the hand on, and reports whether it is in the midst of
// something that may have to be interrupted.
func (c *Coach) follow() (underWay bool) {
	switch {
	case !c.visible:
	case c.driven:
		c.hand.least = math.Min(c.hand.least, c.radius)
	case c.hand.Kind == hands.Turning:
		return c.followTurn()
	case c.hand.Kind == hands.Pushing:
		return c.followPush()
	case c.hand.Kind == hands.Racking:
		return c.followRack()
	case c.hand.Kind == hands.Locking:
		c.followLock()
	}
	return false
}

// travelled is how far the star is from where the words found it, beyond drift.
func (c *Coach) travelled() r2.Vec {
	h := &c.hand
	return r2.Sub(r2.Sub(c.track.Now(), h.from), r2.Scale(c.t-h.start, c.track.Drift))
}

// slowed reports whether the movement is as good as over: the star is still, or
// for two frames slower than a seventh of its best. Hands that have done little
// of what was asked are given time for another grip.
func (c *Coach) slowed() bool {
	h := &c.hand
	v, _ := hands.Slope(c.track.Last(0.21))
	speed := r2.Norm(r2.Sub(v, c.track.Drift))
	h.peak = math.Max(h.peak, speed)
	if speed < 0.15*h.peak {
		h.slow++
	} else {
		h.slow = 0
	}
	if h.Kind == hands.Turning && !h.Stopped && r2.Norm(h.turned) < 0.45*h.goal {
		return c.rested() > 0.6
	}
	if h.Kind == hands.Pushing && r2.Norm(c.travelled()) < 0.45*r2.Norm(r2.Sub(h.from, c.goal())) {
		return c.rested() > 0.9 // it has only begun
	}
	return c.rested() > 0.3 || h.slow >= 2 && h.peak > 0.25
}

// rested is for how long the star has been still, seconds.
func (c *Coach) rested() float64 {
	if math.IsNaN(c.track.Still) {
		return 0
	}
	return c.t - c.track.Still
}

// Longest that a movement may take once it has begun, seconds.
const (
	longestTurn = 20.0
	longestPush = 12.0
)

// atWork ends what has ended out of sight or takes too long, and reports whether the hand
// is at work or about to be.
func (c *Coach) atWork() bool {
	h := &c.hand
	switch {
	case !h.Open():
		// What was done while the words were said may have been the end of the turn
		// before: this one may still come.
		return h.Kind == hands.Turning && h.early && !h.Stopped && c.t < h.SpokenAt+c.usual(byKnob)
	case c.outOfSight():
		c.hand.Enter(hands.Settled, c.t)
		return false
	case h.Phase == hands.Moving:
		return c.stoppedAtEdge() || !c.tooLong()
	}
	gone := c.t - math.Max(c.lastFound, h.Since)
	if h.Kind == hands.Pushing && !c.visible && gone > 3 && c.covered(gone) {
		c.hand.Enter(hands.Settled, c.t)
		return false
	}
	return true
}

// outOfSight reports whether the star is lost while a knob or a lock was to be turned.
func (c *Coach) outOfSight() bool {
	h := &c.hand
	if c.visible || c.t-c.lastFound <= 1.2 || h.Kind != hands.Locking && (h.Kind != hands.Turning || h.back && h.Phase == hands.Waiting) {
		return false
	}
	if h.Phase == hands.Moving || h.Kind == hands.Locking || r2.Norm(h.turned) > math.Max(0.12, 10*c.track.Jitter) {
		c.lostSight()
	} else {
		owed := *h
		c.owed = &owed // it was not begun
	}
	return true
}

// tooLong ends a movement that takes too long, or ends out of sight, and reports whether
// it did.
func (c *Coach) tooLong() bool {
	h := &c.hand
	took := c.t - h.Since
	late := false
	switch h.Kind {
	case hands.Turning:
		late = took > longestTurn
	case hands.Pushing:
		late = took > longestPush
	case hands.Racking:
		late = took > rackPatience || !c.visible && c.why == "clipped" && c.t-c.lastFound > 4
	}
	if !late {
		return false
	}
	if h.Kind == hands.Racking {
		c.racked()
	}
	c.hand.Enter(hands.Settled, c.t)
	return true
}

// skip takes it that the hand has done what it was asked to do.
func (c *Coach) skip(t float64) {
	if c.hand.Open() {
		if c.hand.Kind == hands.Racking && c.hand.Phase == hands.Moving {
			c.racked()
		}
		c.hand.Enter(hands.Settled, t)
	}
}

// restFor is how long the star must rest for one movement to be over and the next
// to be another, seconds.
const restFor = 0.5

// pending is a cue that has begun to sound while the star was still on the move by
// what was asked for before: it comes into force when the star rests, or when its
// words are out.
type pending struct {
	cue cue.Cue
	on  bool

	slowest float64 // the star's lowest speed since then, mm/s
	there   r2.Vec  // where the star was
	faster  int     // frames in a row for which it has been much faster again
}

// take puts a cue in force whose words begin now. People begin before the words
// are out, so what moves from now on is its doing.
func (c *Coach) take(cue cue.Cue, t float64) {
	if h := &c.hand; cue.Again && h.Phase == hands.Waiting && h.Kind != hands.Idle && cue.Action == h.cue.Action && cue.Knob == h.cue.Knob {
		return // it is in force
	}
	resting := c.rested() >= restFor && (c.hand.Kind != hands.Racking || c.steady())
	if !resting && c.hand.Kind != hands.Idle && c.hand.Phase != hands.Waiting {
		if !c.pending.on {
			c.pending = pending{cue: cue, on: true, slowest: math.Inf(1)}
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
	if p.cue.Action != cue.Turn || c.hand.Kind != hands.Pushing {
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
	if h.cue.ID == id && math.IsInf(h.SpokenAt, 1) {
		h.SpokenAt = t
	}
	if h.Phase == hands.Waiting {
		h.toldT = t
	}
}
