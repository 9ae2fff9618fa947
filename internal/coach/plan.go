package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// frameBox is where the star may be: half the frame's width and height less what
// the ring needs, mm, about the frame's centre.
type frameBox struct {
	centre r2.Vec // of the frame, relative to the target
	half   r2.Vec
}

func (b frameBox) holds(s r2.Vec) bool {
	d := r2.Sub(s, b.centre)
	return math.Abs(d.X) <= b.half.X && math.Abs(d.Y) <= b.half.Y
}

// room returns how far the star may go from s along the unit vector u.
func (b frameBox) room(s, u r2.Vec) float64 {
	d := r2.Sub(s, b.centre)
	axis := func(at, half, u float64) float64 {
		switch {
		case u > 1e-9:
			return (half - at) / u
		case u < -1e-9:
			return (half + at) / -u
		}
		return math.Inf(1)
	}
	return math.Max(0, math.Min(axis(d.X, b.half.X, u.X), axis(d.Y, b.half.Y, u.Y)))
}

// move is a turn that the planner proposes.
type move struct {
	knob int
	way  float64 // +1 tightens
	axis float64 // how far the axis point should go in all, mm
	cost float64 // expected further cost, in turn cues
}

// learnRoom is the room that a first nudge should have, and reachOut how far a
// turn may be planned beyond the room that is left, as fractions of its travel
// and of the room: hands often do less than they are told.
const (
	learnRoom = 0.7
	reachOut  = 1.15
	proveHere = 2
)

// firstNudge is the least first turn: well beyond a thread's play.
const firstNudge = 0.06

// What things cost, in turn cues (some five seconds each).
const (
	turnCost     = 1.0
	recentreCost = 0.8
	lockCost     = 1.2
	guessCost    = 0.9 // a knob that may go either of two ways
	againCost    = 1.3 // still off after two
)

// plan chooses the turn that leads to |axis| <= goal with the fewest words, for
// an axis point that must go by need (mm) with the star at s. Extra is what it
// costs besides to free each knob.
func (r *responses) plan(need, s r2.Vec, box frameBox, goal float64, extra [3]float64) move {
	modes := r.modes()
	size := r2.Norm(need)
	if modes == nil {
		// Nothing is known yet: any knob will do. A nudge large enough to be told
		// from everything else, small enough to stay in sight, whichever way.
		least := 0.5 * firstNudge * r.perTurn(0)
		return move{knob: 0, way: 1, axis: math.Max(least, math.Min(0.3*math.Min(box.half.X, box.half.Y), 0.6))}
	}
	best := move{cost: math.Inf(1)}
	for k := range r.knobs {
		for _, way := range [2]float64{1, -1} {
			for _, part := range [...]float64{0.3, 0.45, 0.6, 0.75, 0.9, 1, 1.12} {
				m := move{knob: k, way: way, axis: part * size}
				m.cost = r.expect(m, modes, need, s, box, goal, extra)
				if m.cost < best.cost {
					best = m
				}
			}
		}
	}
	return best
}

// expect returns the expected cost of a move and the best one after it, over the
// orientations and the hand's error.
func (r *responses) expect(m move, modes []mode, need, s r2.Vec, box frameBox, goal float64, extra [3]float64) float64 {
	sum := extra[m.knob]
	extra[m.knob] = 0
	// Turning a knob whose way is known teaches nothing about the others.
	if known := knownKnobs(modes); known[m.knob] {
		left := r2.Sub(need, r2.Scale(m.way*m.axis, modes[0].dir[m.knob]))
		if r2.Norm(left) > 0.92*r2.Norm(need) {
			return math.Inf(1) // it would lead nowhere
		}
		for k := range extra {
			if !known[k] {
				extra[k] += guessCost
			}
		}
	}
	for _, o := range modes {
		u := r2.Scale(m.way, o.dir[m.knob])
		cost := turnCost + recentreCost*recentres(2*m.axis, u, s, box)
		for _, hand := range [...]float64{0.8, 1, 1.2} {
			left := r2.Sub(need, r2.Scale(hand*m.axis, u))
			at := r2.Add(s, r2.Scale(2*hand*m.axis, u))
			if !box.holds(at) {
				at = box.centre
			}
			cost += rest(left, o, at, box, goal, extra) / 3
		}
		sum += o.p * cost
	}
	if r.way[m.knob] != 0 && r.way[m.knob] != m.way {
		sum += 0.15 // backlash
	}
	return sum
}

// knownKnobs tells which knobs' ways are the same in all likely orientations.
func knownKnobs(modes []mode) (known [3]bool) {
	for k := range known {
		var mean r2.Vec
		for _, m := range modes {
			mean = r2.Add(mean, r2.Scale(m.p, m.dir[k]))
		}
		known[k] = r2.Norm(mean) > 0.85
	}
	return known
}

// recentres returns how often the star must be brought back for a way of travel.
func recentres(travel float64, u, s r2.Vec, box frameBox) float64 {
	first := box.room(s, u)
	if travel <= first {
		return 0
	}
	full := math.Max(box.room(box.centre, u), 0.1)
	return math.Ceil((travel - first) / full)
}

// rest returns the cost of what is left after the first move, with one more.
func rest(left r2.Vec, o mode, s r2.Vec, box frameBox, goal float64, extra [3]float64) float64 {
	size := r2.Norm(left)
	if size <= 0.85*goal {
		return 0.1 * size / goal
	}
	best := math.Inf(1)
	for k := range o.dir {
		along := r2.Dot(left, o.dir[k])
		off := math.Sqrt(math.Max(size*size-along*along, 0))
		u := r2.Scale(math.Copysign(1, along), o.dir[k])
		c := extra[k] + turnCost + recentreCost*recentres(2*math.Abs(along), u, s, box)
		// The hand's error along the way, and what this knob cannot reach.
		if miss := math.Hypot(off, 0.2*along); miss > 0.85*goal {
			c += againCost + recentreCost*2*miss/math.Min(box.half.X, box.half.Y)
		}
		best = math.Min(best, c)
	}
	return best
}
