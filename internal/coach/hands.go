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

	took    int     // 1 + the knob that was really taken, once that is known
	tookWay float64 // and which way
	hidden  bool    // the star left the frame as the turn came to its end
	booked  r2.Vec  // how much of turned has been entered in the screws' account

	radius0, least float64 // of a racking: the ring before, and the least seen
	lost           float64 // seconds for which no ring could be measured
}

// begin makes the hand do a cue whose words are out at time t.
func (c *Coach) begin(cue Cue, t float64) {
	c.lockFelt()
	c.book()
	if c.hand.kind == racking && c.hand.phase == moving {
		c.racked() // nobody saw where it ended
	}
	h := hand{cue: cue, out: t, since: t, from: c.star, start: c.t}
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
		k := c.knobIndex(cue.Knob)
		c.locks.pending, c.locks.way = 1+k, cue.Direction
		c.locks.open[k] = cue.Direction == Release
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
	c.knock(d)
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
		c.proveT = c.t
	}
}

// follow moves the phase of the hand on, and returns what must be said at once.
func (c *Coach) follow() []Cue {
	if !c.visible {
		return nil
	}
	if c.driven {
		c.hand.least = math.Min(c.hand.least, c.radius)
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
