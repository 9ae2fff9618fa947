package telescope

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"
)

// screw is one knob with its thread and its lock.
type screw struct {
	knob   float64 // turns of the knob since the start, > 0 tightened
	mirror float64 // turns that the mirror has followed
	lock   float64 // 0 loose to 1 snug
	snug   r2.Vec  // what the lock does to the axis point at lock = 1, mm
	own    r2.Vec  // its repeatable part
}

func newScrew(c Cell, r *rand.Rand) screw {
	var s screw
	own, first := gauss2(r, c.LockShift*math.Sqrt(0.7/2)), gauss2(r, c.LockShift*math.Sqrt(0.3/2))
	// The thread's play stands anywhere at the start.
	s.mirror = uniform(r, -0.5, 0.5) * c.Backlash
	if c.Locks {
		s.own, s.snug, s.lock = own, r2.Add(own, first), 1
	}
	return s
}

func (s *screw) turn(turns, backlash float64) {
	if s.lock > 0.5 {
		return
	}
	s.knob += turns
	s.mirror = math.Min(math.Max(s.mirror, s.knob-backlash/2), s.knob+backlash/2)
}

func (s *screw) setLock(to, shift float64, r *rand.Rand) {
	to = math.Min(1, math.Max(0, to))
	if s.lock == 0 && to > 0 { // it closes anew: a new little push beside its own
		s.snug = r2.Add(s.own, gauss2(r, shift*math.Sqrt(0.3/2)))
	}
	s.lock = to
}

func (s *screw) pull() r2.Vec { return r2.Scale(s.lock, s.snug) }
