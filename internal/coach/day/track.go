package day

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// track follows what is to be brought to zero, mm, from frame to frame.
type track struct {
	pts   []point
	jit   float64 // RMS from frame to frame, per axis
	still float64 // since when nothing has moved; NaN while it moves
}

type point struct {
	t float64
	y r2.Vec
}

func newTrack() track { return track{jit: 0.1, still: math.NaN()} }

func (k *track) add(t float64, y r2.Vec) {
	if n := len(k.pts); n > 0 && t-k.pts[n-1].t > 1.5 {
		k.pts, k.still = k.pts[:0], math.NaN()
	}
	k.pts = append(k.pts, point{t, y})
	for len(k.pts) > 3 && t-k.pts[0].t > 5 {
		k.pts = k.pts[1:]
	}
	if n := len(k.pts); n >= 3 && !k.moving() { // var(a - 2b + c) = 6 var, two axes
		a, b, c := k.pts[n-3], k.pts[n-2], k.pts[n-1]
		v := r2.Norm2(r2.Add(r2.Sub(a.y, r2.Scale(2, b.y)), c.y)) / 12
		k.jit = math.Sqrt(0.95*k.jit*k.jit + 0.05*math.Min(v, 9*k.jit*k.jit))
	}
	switch {
	case k.moving():
		k.still = math.NaN()
	case math.IsNaN(k.still):
		k.still = t
	}
}

// moving reports whether the view has gone farther in half a second than it jitters.
func (k *track) moving() bool {
	n := len(k.pts)
	if n < 2 {
		return false
	}
	now := k.pts[n-1]
	for i := n - 2; i >= 0 && now.t-k.pts[i].t < 0.55; i-- {
		if r2.Norm(r2.Sub(now.y, k.pts[i].y)) > math.Max(5*k.jit, 0.25) {
			return true
		}
	}
	return false
}

// rested is for how long nothing has moved, seconds.
func (k *track) rested() float64 {
	if math.IsNaN(k.still) || len(k.pts) == 0 {
		return 0
	}
	return k.pts[len(k.pts)-1].t - k.still
}

// now returns the middle of the last places, and its one-sigma per axis.
func (k *track) now(span float64) (y r2.Vec, sd float64) {
	var xs, ys []float64
	for i := len(k.pts) - 1; i >= 0; i-- {
		if p := k.pts[i]; k.pts[len(k.pts)-1].t-p.t <= span+1e-6 {
			xs, ys = append(xs, p.y.X), append(ys, p.y.Y)
		}
	}
	if len(xs) == 0 {
		return y, math.Inf(1)
	}
	return r2.Vec{X: robust.MeanMedian(xs), Y: robust.MeanMedian(ys)}, 1.25 * k.jit / math.Sqrt(float64(len(xs)))
}

// velocity is that of the last third of a second, mm/s.
func (k *track) velocity() r2.Vec {
	n := len(k.pts)
	for i := n - 2; i >= 0; i-- {
		if dt := k.pts[n-1].t - k.pts[i].t; dt > 0.3 || i == 0 && dt > 0 {
			return r2.Scale(1/dt, r2.Sub(k.pts[n-1].y, k.pts[i].y))
		}
	}
	return r2.Vec{}
}

// forget drops what was seen: something else is being followed now.
func (k *track) forget() { k.pts, k.still = nil, math.NaN() }
