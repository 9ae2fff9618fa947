package day

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// move is a turn to ask for.
type move struct {
	knob  int
	turns float64 // > 0 tightens
	goes  r2.Vec  // how far the view may go with it, mm; (0, 0) where that is not known
}

// limits says how far screws may go, turns.
type limits struct {
	tighten, loosen float64 // in one cue
	back, on        float64 // loosened, or tightened, since the start
}

// leastTurn is less than a hand can do on purpose.
const leastTurn = 1.0 / 50

// plan chooses the next turn to bring the view by need, mm, to within the goal. Screws
// whose answer is not known are nudged one at a time, tightened. ok is false where no turn
// within the limits helps.
func (s *step) plan(need r2.Vec) (m move, ok bool) {
	r := s.screws
	if r.all() {
		m, ok, open := s.solve(need)
		for k := range 3 {
			if !open && r.seen[k] == 0 && s.limits.on-s.turned[k] > s.nudge { // what is only inferred of it may mislead
				return move{knob: k, turns: s.nudge}, true
			}
		}
		return m, ok
	}
	unknown := -1
	for k := range 3 {
		if !r.known(k) {
			if unknown < 0 {
				unknown = k
			}
			continue
		}
		u, _ := r.of(k)
		full := r2.Dot(u, need) / r2.Norm2(u)
		t := s.clamp(k, full)
		if left := r2.Norm(r2.Sub(need, r2.Scale(t, u))); math.Abs(t) > leastTurn && left < 0.6*r2.Norm(need) {
			return move{k, t, r2.Scale(full, u)}, true
		}
	}
	return move{knob: unknown, turns: s.nudge}, true
}

// clamp keeps a turn of a screw within the limits.
func (s *step) clamp(k int, t float64) float64 {
	l, turned := s.limits, s.turned[k]
	most := math.Min(l.tighten, math.Max(l.on-turned, 0))
	return math.Max(math.Min(t, most), math.Max(-l.loosen, math.Min(-l.back-turned, 0)))
}

// solve shares the way out among three screws that are known. Of all the ways to
// do it, which differ by turning the three together, it takes the one with the
// least turning in which no screw is backed off too far, and begins with the turn
// that leaves least to do; a single turn that comes near enough is preferred. open
// is false where the limits bar the way.
func (s *step) solve(need r2.Vec) (m move, ok, open bool) {
	goal, turned, l := s.goal, s.turned, s.limits
	var u [3]r2.Vec
	for k := range 3 {
		u[k], _ = s.screws.of(k)
	}
	best, left := move{}, math.Inf(1)
	for k := range 3 {
		full := r2.Dot(u[k], need) / math.Max(r2.Norm2(u[k]), 1e-9)
		t := s.clamp(k, full)
		rest := r2.Norm(r2.Sub(need, r2.Scale(t, u[k])))
		if rest < left && math.Abs(t) > leastTurn/2 {
			best, left = move{k, t, r2.Scale(full, u[k])}, rest
		}
	}
	if left < 0.6*goal {
		return best, true, true
	}
	det := r2.Cross(u[0], u[1])
	if math.Abs(det) < 1e-9 {
		return best, !math.IsInf(left, 1), false
	}
	base := [3]float64{r2.Cross(need, u[1]) / det, r2.Cross(u[0], need) / det, 0}
	share, cost := base, math.Inf(1)
	try := func(all float64) {
		var t [3]float64
		c := 0.0
		for k := range t {
			t[k] = base[k] + all
			c += math.Abs(t[k])
			if t[k] < 0 {
				c += 20 * math.Min(math.Max(-l.back-turned[k]-t[k], 0), -t[k])
			}
		}
		if c < cost {
			share, cost = t, c
		}
	}
	for k := range 3 {
		try(-base[k])
		try(-base[k] - l.back - turned[k])
	}
	first, goes, reach := -1, 0.0, need
	for k, t := range share {
		reach = r2.Sub(reach, r2.Scale(math.Max(math.Min(t, l.on-turned[k]), math.Min(-l.back-turned[k], 0)), u[k]))
		t = s.clamp(k, t)
		if way := math.Abs(t) * r2.Norm(u[k]); way > goes && math.Abs(t) > leastTurn/2 {
			first, goes = k, way
		}
	}
	open = r2.Norm(reach) < math.Max(0.9*goal, 0.3*r2.Norm(need))
	if first < 0 || !open && left < 0.8*r2.Norm(need) {
		return best, left < r2.Norm(need), open
	}
	return move{first, s.clamp(first, share[first]), r2.Scale(share[first], u[first])}, true, open
}
