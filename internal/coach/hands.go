package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// handKind is what the person was last asked to do.
type handKind int

const (
	idle handKind = iota
	turning
	pushing
	racking
	locking
)

// phase is how far they are with it.
type phase int

const (
	waiting phase = iota // asked, nothing has happened yet
	moving
	settled
)

// hand is what the person is doing, as far as the star tells.
type hand struct {
	kind  handKind
	phase phase
	cue   Cue
	way   float64 // of a turn: +1 tightens
	knob  int
	out   float64 // when the words were out
	since float64 // when the phase began
	from  r2.Vec  // where the star was when the words were out
	start float64 // the time of from

	turned  r2.Vec  // the star's way since then, beyond drift
	counted float64 // variance of the axis point already allowed for it, mm^2
	goal    float64 // of a turn: how far the star should go, mm
	peak    float64 // the star's highest speed, mm/s
	slow    int     // frames in a row for which it has been slow beside that
	stopped bool    // stop was said
	blind   bool    // nobody knew yet which way the star would go
	blamed  bool    // a wrong knob or way was said
	repeats int

	radius0, least float64 // of a racking: the ring before, and the least seen
	lost           int     // frames for which no ring could be measured
	steadyR        float64
}

// begin makes the hand do a cue whose words are out at time t.
func (c *Coach) begin(cue Cue, t float64) {
	c.lockFelt()
	if c.hand.kind == racking && c.hand.phase == moving {
		c.racked() // nobody saw where it ended
	}
	h := hand{cue: cue, out: t, since: t, from: c.star, start: c.t, repeats: c.repeats}
	switch cue.Action {
	case Turn:
		h.kind, h.knob, h.way = turning, c.knobIndex(cue.Knob), 1
		if cue.Direction == Loosen {
			h.way = -1
		}
		h.goal, h.blind = c.aim, c.stage == "learn"
	case Recentre:
		h.kind = pushing
	case Defocus, OtherSide:
		h.kind, h.radius0, h.least = racking, c.radius, c.radius
	case Lock:
		h.kind = locking
		c.locks.pending, c.locks.way = 1+c.knobIndex(cue.Knob), cue.Direction
	}
	c.hand = h
}

func (c *Coach) knobIndex(name string) int {
	for i, k := range c.s.Knobs {
		if k.Name == name {
			return i
		}
	}
	return 0
}

// feel gives the star's way since the last frame, beyond drift, to whoever moved
// it: a knob moves the axis point by half of it, a push of the tube not at all.
func (c *Coach) feel(d r2.Vec) {
	h := &c.hand
	h.turned = r2.Add(h.turned, d)
	size := r2.Norm(d)
	going := c.track.moving()
	switch h.kind {
	case turning, locking:
		if h.phase == settled && c.t-h.since > 1 && going && size > 4*c.track.jit {
			c.surprise(d, 0.25, 0.3) // a late turn, or a knock
			return
		}
		c.belief.shift(r2.Scale(0.5, d), 0)
		// Three per cent, and what the drift may have done meanwhile.
		v := 0.03*0.5*r2.Norm(h.turned) + 0.002
		if v*v > h.counted {
			c.belief.shift(r2.Vec{}, math.Sqrt(v*v-h.counted))
			h.counted = v * v
		}
		c.moved(r2.Scale(0.5, d))
	case pushing, racking:
		// The silhouette walks with the tube: 5 % for the secondary's distance,
		// 2 % for the offset's scale.
		v := r2.Norm(h.turned)
		if v*v > h.counted {
			grow := math.Sqrt(v*v - h.counted)
			c.belief.loosenQ(0.05 * grow)
			c.belief.shift(r2.Vec{}, 0.01*grow)
			h.counted = v * v
		}
		if h.phase == settled && c.t-h.since > 1.5 && going && size > 6*c.track.jit {
			c.surprise(d, 0, 0.15)
		}
	default:
		if going && size > 6*c.track.jit {
			c.surprise(d, 0.1, 0.25)
		}
	}
}

// surprise is a jump that nobody asked for: perhaps the tube, perhaps the mirror.
func (c *Coach) surprise(d r2.Vec, share, sd float64) {
	c.belief.shift(r2.Scale(share, d), sd*r2.Norm(d))
	c.moved(r2.Scale(math.Max(share, sd), d))
}

// moved adds to the way of the axis point since the sides were last seen; a real
// move makes them old.
func (c *Coach) moved(d r2.Vec) {
	c.shifted = r2.Add(c.shifted, d)
	if r2.Norm(c.shifted) > math.Max(0.05*c.o.tol, 4*c.track.jit) {
		c.shifted = r2.Vec{}
		c.belief.changed()
	}
}

// follow moves the phase of the hand on, and returns what must be said at once.
func (c *Coach) follow() []Cue {
	if !c.visible {
		return nil
	}
	switch c.hand.kind {
	case turning:
		return c.followTurn()
	case pushing:
		return c.followPush()
	case racking:
		return c.followRack()
	case locking:
		return c.followLock()
	}
	return nil
}

// travelled is how far the star is from where the words found it, beyond drift.
func (c *Coach) travelled() r2.Vec {
	h := &c.hand
	return r2.Sub(r2.Sub(c.track.now(), h.from), r2.Scale(c.t-h.start, c.track.drift))
}

func (c *Coach) enter(p phase) { c.hand.phase, c.hand.since = p, c.t }

// slowed reports whether the movement is as good as over: the star is still, or
// for two frames slower than a seventh of its best. Hands that have done little
// of what was asked are given time for another grip.
func (c *Coach) slowed() bool {
	h := &c.hand
	v, _ := slope(c.track.last(0.21))
	speed := r2.Norm(r2.Sub(v, c.track.drift))
	h.peak = math.Max(h.peak, speed)
	if speed < 0.15*h.peak {
		h.slow++
	} else {
		h.slow = 0
	}
	if h.kind == turning && !h.stopped && r2.Norm(h.turned) < 0.45*h.goal {
		return c.rested() > 0.6
	}
	return c.rested() > 0.3 || h.slow >= 2 && h.peak > 0.25
}

// rested is for how long the star has been still, seconds.
func (c *Coach) rested() float64 {
	if math.IsNaN(c.track.still) {
		return 0
	}
	return c.t - c.track.still
}

func (c *Coach) followTurn() []Cue {
	h := &c.hand
	d := c.travelled()
	size := r2.Norm(d)
	switch h.phase {
	case waiting:
		if size > math.Max(0.05, 5*c.track.jit) && c.track.moving() {
			c.enter(moving)
		}
	case moving:
		if c.slowed() {
			c.learnTurn(d)
			c.enter(settled)
			return nil
		}
		if h.stopped {
			return nil
		}
		v, _ := c.track.velocity()
		ahead := c.coming(size, v)
		edge := c.edge()
		if at := r2.Add(c.star, ahead); !edge.holds(at) && r2.Dot(r2.Sub(at, edge.centre), v) > 0 {
			h.stopped = true
			return []Cue{{Code: CodeStopEdge, Action: Stop, Reason: "the star is about to leave the frame"}}
		}
		if cue, bad := c.wrongHand(d, v); bad {
			h.stopped, h.blamed = true, true
			return []Cue{cue}
		}
		if !h.blind && size+r2.Norm(ahead) > 1.1*h.goal && size > 0.3*h.goal && r2.Norm(v) > 0.1 && c.overshoots(v, ahead) {
			h.stopped = true
			return []Cue{{Code: CodeStop, Action: Stop, Reason: "the axis point is where this turn should bring it"}}
		}
	}
	return nil
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
	way := speed * (stopWord + c.s.ReactionS + c.s.EarDelayS)
	most := 1.25 * c.hand.goal * math.Exp(0.5*c.knobs.sd[c.hand.knob])
	return r2.Scale(math.Min(way, math.Max(most-gone, 0.3*speed))/speed, v)
}

// overshoots reports whether the axis point would be well past its best place on
// this line once the star has gone on by ahead.
func (c *Coach) overshoots(v, ahead r2.Vec) bool {
	a, _ := c.belief.axis()
	a = r2.Add(a, c.locks.pulls())
	return r2.Dot(r2.Add(a, r2.Scale(0.5, ahead)), r2.Unit(v)) > 0.2*c.o.tol
}

// wrongHand tells a wrong knob or a wrong way by the star's direction.
func (c *Coach) wrongHand(d, v r2.Vec) (Cue, bool) {
	h := &c.hand
	if r2.Norm(d) < math.Max(0.15, 10*c.track.jit) || !c.knobs.certain() || h.blamed {
		return Cue{}, false
	}
	did := c.knobs.explain(h.knob, h.way, d, c.track.jit, false)
	for k := range did {
		for w, way := range [2]float64{1, -1} {
			if did[k][w] < 0.9 || (k == h.knob && way == h.way) {
				continue
			}
			if k == h.knob {
				return Cue{Code: CodeWrongWay, Action: Stop, Knob: h.cue.Knob, Reason: "the star goes the opposite way"}, true
			}
			name := c.s.Knobs[k].Name
			return Cue{Code: CodeWrongKnob, Action: Stop, Args: map[string]any{"moved": name},
				Reason: "the star goes as with the knob " + name}, true
		}
	}
	return Cue{}, false
}

// learnTurn takes a finished turn into the knobs' responses.
func (c *Coach) learnTurn(d r2.Vec) {
	h := &c.hand
	if h.cue.Turns <= 0 {
		return
	}
	did := c.knobs.observe(h.knob, h.way, h.cue.Turns, d, c.track.jit, h.stopped)
	best, bk, bw := 0.0, 0, 0
	for k := range did {
		for w := range did[k] {
			if did[k][w] > best {
				best, bk, bw = did[k][w], k, w
			}
		}
	}
	way := 1 - 2*float64(bw)
	per := c.knobs.perTurn(bk)
	c.turns[bk] += way * r2.Norm(d) / per
}

func (c *Coach) followPush() []Cue {
	h := &c.hand
	size := r2.Norm(c.travelled())
	switch h.phase {
	case waiting:
		if size > math.Max(0.05, 6*c.track.jit) && c.track.moving() {
			c.enter(moving)
		}
	case moving:
		off := r2.Norm(r2.Sub(c.star, c.box().centre))
		if c.slowed() || off < 0.2*c.box().half.Y {
			c.enter(settled)
		}
	}
	return nil
}

func (c *Coach) followRack() []Cue {
	h := &c.hand
	h.least = math.Min(h.least, c.radius)
	switch h.phase {
	case waiting:
		if math.Abs(c.radius-h.radius0) > 0.1*h.radius0 {
			c.enter(moving)
		}
	case moving:
		if c.steady() && c.t-h.since > 0.5 {
			c.enter(settled)
			c.racked()
		}
	}
	return nil
}

// racked judges where a racking has ended.
func (c *Coach) racked() {
	h := &c.hand
	dip := h.least / h.radius0
	switch {
	case h.cue.Action == Defocus:
		if h.cue.Code == CodeFocused || dip < 0.3 {
			c.belief.racked(0.5)
		}
	case dip < 0.4 || h.lost > 2:
		c.belief.racked(0.97)
		c.sideT = c.t
	case dip < 0.7:
		c.belief.racked(0.5)
		c.sideT = c.t
	}
	c.belief.noise.interrupt()
	// The sensor may tip a little as the focuser goes.
	c.belief.shift(r2.Vec{}, 0.02)
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
		c.locks.felt(r2.Scale(0.5, c.hand.turned))
	}
}

// lostSight is called when the star has left the frame while a knob or a lock was
// turned: how far the mirror went on is not known.
func (c *Coach) lostSight() {
	h := &c.hand
	if h.kind == locking {
		c.belief.shift(r2.Vec{}, 0.3*c.o.tol)
		c.belief.changed()
		return
	}
	d := c.travelled()
	size := r2.Norm(d)
	h.stopped = true
	c.learnTurn(d)
	more := math.Max(1.35*h.goal*math.Exp(c.knobs.sd[h.knob])-size, 0.3*h.goal)
	var u r2.Vec
	if size > 0 {
		u = r2.Scale(1/size, d)
	}
	c.belief.shift(r2.Scale(0.5*0.4*more, u), 0.5*0.5*more+0.1*c.o.tol)
	c.belief.changed()
}
