package report

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
)

// walk is how a journey moved the axis point, in the frame of the mirror, and where a turn
// of each knob would have moved it. Lengths mm.
type walk struct {
	way   r2.Vec
	sigma float64 // one-sigma, each way
	turn  [3]r2.Vec
}

const (
	sureRotation = 0.35 // radians: the camera's angle to the knobs is known (judgement)
	sureParity   = 0.95 // and whether its picture is mirrored
)

// journey compares how before left the mirror with how after found it, or returns nil
// where the two cannot be compared. Each night knows how the camera stood to the knobs that
// night, so that the camera may have been turned in between.
func journey(before, after *Night) *walk {
	left, found := before.left(), after.found()
	a, b := before.memory, after.memory
	if left == nil || found == nil || len(after.Knobs) != 3 || len(before.Knobs) != 3 || !oriented(a) || !oriented(b) {
		return nil
	}
	w := &walk{way: r2.Sub(toMirror(*found, b), toMirror(*left, a))}
	w.sigma = math.Sqrt(sq(found.Sigma) + sq(left.Sigma) + sq(math.Hypot(found.X, found.Y)*b.RotationSD) + sq(math.Hypot(left.X, left.Y)*a.RotationSD))
	if !(w.sigma > 0) {
		return nil
	}
	for k := range w.turn {
		// Tightened, a knob takes the star toward its clock position, and the axis half as far.
		sin, cos := math.Sincos(after.Knobs[k].Clock * math.Pi / 6)
		w.turn[k] = r2.Scale(b.PerTurn[k]/2, r2.Vec{X: cos, Y: sin})
		if !(b.PerTurn[k] > 0) || after.Knobs[k].Clock != before.Knobs[k].Clock {
			return nil
		}
	}
	return w
}

func sq(x float64) float64 { return x * x }

func oriented(m *coach.Memory) bool {
	return m != nil && m.RotationSD < sureRotation && math.Abs(2*m.Mirrored-1) > 2*sureParity-1
}

// toMirror turns an axis point from the camera's frame into that of the mirror, in which
// an angle is a knob's clock position.
func toMirror(p Point, m *coach.Memory) r2.Vec {
	v := r2.Rotate(r2.Vec{X: p.X, Y: p.Y}, -m.Rotation, r2.Vec{})
	if m.Mirrored > 0.5 {
		v.Y = -v.Y
	}
	return v
}

// shares splits a journey among the knobs, by the least turns that make it: the sum of
// all three moves nothing but the focus.
func (w *walk) shares(knobs []Knob) []Walk {
	var xx, xy, yy float64 // A A', A's columns being turn
	for _, v := range w.turn {
		xx, xy, yy = xx+v.X*v.X, xy+v.X*v.Y, yy+v.Y*v.Y
	}
	det := xx*yy - xy*xy
	if !(det > 0) {
		return nil
	}
	inverse := func(v r2.Vec) r2.Vec {
		return r2.Vec{X: (yy*v.X - xy*v.Y) / det, Y: (xx*v.Y - xy*v.X) / det}
	}
	list := make([]Walk, len(w.turn))
	for k, v := range w.turn {
		list[k] = Walk{knobs[k].Name, r2.Dot(v, inverse(w.way)), w.sigma * r2.Norm(inverse(v))}
	}
	return list
}

const (
	walkFits   = 3.0  // mean squared error, in sigmas, of journeys that one knob explains
	walkBetter = 9.0  // by how much the next knob's sum of them is larger: three sigma
	walkSure   = 3.0  // the mean is so many of its sigmas from nothing
	walkLeast  = 0.02 // turns: less is nothing to speak of (judgement)
)

// walker returns the knob that alone explains the journeys, the turns of each on average
// with their one-sigma, and whether there is one.
func walker(paths []*walk) (knob int, turns, sigma float64, ok bool) {
	var misfit, mean, spread [3]float64
	for k := range misfit {
		var all []float64
		noise := 0.0
		for _, w := range paths {
			v := w.turn[k]
			t := r2.Dot(w.way, v) / r2.Norm2(v)
			misfit[k] += r2.Norm2(r2.Sub(w.way, r2.Scale(t, v))) / sq(w.sigma)
			all = append(all, t)
			noise += sq(w.sigma) / r2.Norm2(v)
		}
		n := float64(len(all))
		for _, t := range all {
			mean[k] += t / n
		}
		for _, t := range all {
			spread[k] += sq(t-mean[k]) / (n - 1)
		}
		spread[k] = math.Sqrt(max(spread[k], noise/n) / n)
		if misfit[k] < misfit[knob] {
			knob = k
		}
	}
	ok = misfit[knob] < walkFits*float64(len(paths)) && math.Abs(mean[knob]) > max(walkSure*spread[knob], walkLeast)
	for k := range misfit {
		ok = ok && (k == knob || misfit[k] > misfit[knob]+walkBetter)
	}
	return knob, mean[knob], spread[knob], ok
}
