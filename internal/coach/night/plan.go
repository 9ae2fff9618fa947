package night

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/estimate"
)

// move is a turn that the planner proposes.
type move struct {
	knob int
	sign float64 // +1 tightens
	axis float64 // how far the axis point should go in all, mm
	cost float64 // expected further cost, in turn cues
}

// What things cost, in turn cues (some five seconds each).
const (
	turnCost     = 1.0
	recentreCost = 1.0
	lockCost     = 1.2
	guessCost    = 0.9  // a knob that may go either of two ways
	againCost    = 1.5  // still off after two
	reverseCost  = 0.15 // backlash
)

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

// task is what the planner is to achieve: the axis point must go by need, mm,
// until it is within goal, with the star at star. Extra is what it costs to free
// each knob first; screws is how far each may go.
type task struct {
	need, star r2.Vec
	box        frameBox
	goal       float64
	extra      [3]float64
	screws     screws
}

// plan chooses the turn that leads to the target with the fewest words.
func plan(r *estimate.KnobModel, t task) move {
	modes := r.Orientations()
	if modes == nil {
		// Nothing is known yet: any knob will do. A nudge large enough to be told
		// from everything else, small enough to stay in sight, whichever way.
		least := 0.5 * firstNudge * r.PerTurn(0)
		return move{knob: 0, sign: 1, axis: math.Max(least, math.Min(0.3*math.Min(t.box.half.X, t.box.half.Y), 0.6))}
	}
	best := move{cost: math.Inf(1)}
	known := estimate.KnownKnobs(modes)
	for k := range 3 {
		for _, sign := range [2]float64{1, -1} {
			for _, axis := range lengths(k, sign, t.need, modes) {
				m := move{knob: k, sign: sign, axis: axis}
				if m.cost = expect(r, m, modes, known, t); m.cost < best.cost {
					best = m
				}
			}
		}
	}
	return best
}

// lengths returns how far it may be worth going with a knob: to the point nearest
// home on its line, or to where a second knob leads home, in each likely
// orientation; and a little less, since hands err both ways.
func lengths(k int, sign float64, need r2.Vec, modes []estimate.Orientation) []float64 {
	size := r2.Norm(need)
	out := []float64{0.3 * size, 0.6 * size}
	add := func(l float64) {
		if l > 0.05*size && l < 1.3*size {
			out = append(out, l, 0.85*l)
		}
	}
	for _, o := range distinct(modes) {
		u := r2.Scale(sign, o.Direction[k])
		add(r2.Dot(need, u))
		for k2 := range o.Direction {
			if k2 == k {
				continue
			}
			if a, _, ok := split(need, u, o.Direction[k2]); ok {
				add(a)
			}
		}
	}
	return out
}

// distinct picks the likeliest orientation, and the likeliest that differs from
// it by much.
func distinct(modes []estimate.Orientation) []estimate.Orientation {
	best := slices.MaxFunc(modes, func(a, b estimate.Orientation) int { return cmp.Compare(a.Chance, b.Chance) })
	var other estimate.Orientation
	for _, m := range modes {
		apart := 0.0
		for k := range m.Direction {
			apart = math.Max(apart, r2.Norm(r2.Sub(m.Direction[k], best.Direction[k])))
		}
		if apart > 0.7 && m.Chance > other.Chance {
			other = m
		}
	}
	if other.Chance == 0 {
		return []estimate.Orientation{best}
	}
	return []estimate.Orientation{best, other}
}

// split writes v as a u + b w; ok is false for parallel directions.
func split(v, u, w r2.Vec) (a, b float64, ok bool) {
	det := r2.Cross(u, w)
	if math.Abs(det) < 0.1 {
		return 0, 0, false
	}
	return r2.Cross(v, w) / det, r2.Cross(u, v) / det, true
}

// expect returns the expected cost of a move and of what is best after it, over
// the orientations and the hand's error.
func expect(r *estimate.KnobModel, m move, modes []estimate.Orientation, known [3]bool, t task) float64 {
	sum := turnCost + t.extra[m.knob]
	t.extra[m.knob] = 0
	if known[m.knob] {
		left := r2.Sub(t.need, r2.Scale(m.sign*m.axis, modes[0].Direction[m.knob]))
		if r2.Norm(left) > 0.92*r2.Norm(t.need) {
			return math.Inf(1) // it would lead nowhere
		}
		// Turning a knob whose way is known teaches nothing about the others.
		for k := range known {
			if !known[k] {
				t.extra[k] += guessCost
			}
		}
	}
	if r.Reverses(m.knob, m.sign) {
		sum += reverseCost
	}
	sum += t.screws.cost(m.knob, m.sign*2*m.axis/r.PerTurn(m.knob))
	for _, o := range modes {
		u := r2.Scale(m.sign, o.Direction[m.knob])
		for _, hand := range [...]float64{0.8, 1, 1.2} {
			next := t
			next.need = r2.Sub(t.need, r2.Scale(hand*m.axis, u))
			times, at := travel(2*hand*m.axis, u, t.star, t.box)
			next.star = at
			sum += o.Chance / 3 * (recentreCost*times + rest(next, o))
		}
	}
	return sum
}

// rest returns the cost of what is left in an orientation that is known then:
// with one knob, or with two.
func rest(t task, o estimate.Orientation) float64 {
	size := r2.Norm(t.need)
	if size <= 0.85*t.goal {
		return 0.1 * size / t.goal
	}
	best := math.Inf(1)
	for k := range o.Direction {
		u := o.Direction[k]
		along := r2.Dot(t.need, u)
		if along < 0 {
			u, along = r2.Scale(-1, u), -along
		}
		times, _ := travel(2*along, u, t.star, t.box)
		one := turnCost + t.extra[k] + recentreCost*times
		off := math.Sqrt(math.Max(size*size-along*along, 0))
		if math.Hypot(off, 0.2*along) <= 0.85*t.goal {
			best = math.Min(best, one)
			continue
		}
		for k2 := range o.Direction {
			a, b, ok := split(t.need, u, o.Direction[k2])
			if k2 == k || !ok || a < 0 {
				continue
			}
			w := r2.Scale(math.Copysign(1, b), o.Direction[k2])
			first, at := travel(2*a, u, t.star, t.box)
			more, _ := travel(2*math.Abs(b), w, at, t.box)
			c := 2*turnCost + t.extra[k] + t.extra[k2] + recentreCost*(first+more)
			if miss := 0.2 * math.Hypot(a, b); miss > 0.5*t.goal {
				c += againCost * math.Min(1, miss/t.goal)
			}
			best = math.Min(best, c)
		}
	}
	return best
}

// travel returns how often the star must be brought back on a way along u, as an
// expectation, and where it is at the end.
func travel(way float64, u, s r2.Vec, box frameBox) (times float64, end r2.Vec) {
	first := box.room(s, u)
	if way <= first {
		return 0, r2.Add(s, r2.Scale(way, u))
	}
	full := math.Max(box.room(box.centre, u), 0.1)
	n := (way - first) / full
	last := way - first - full*math.Floor(n)
	return 0.5 + n, r2.Add(box.centre, r2.Scale(last, u))
}
