package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// track follows the star from frame to frame: where it is, how fast it goes, how
// fast it drifts when nobody touches anything. Lengths mm, times seconds.
type track struct {
	pts   []point
	drift r2.Vec
	known float64 // seconds of stillness behind the drift's estimate
	still float64 // since when the star has only drifted; NaN while it moves
	seen  int     // places so far
	jit   float64 // RMS of the star about a smooth path, per axis
}

type point struct {
	t float64
	s r2.Vec
}

func newTrack(f float64) *track {
	return &track{still: math.NaN(), jit: f * 2e-6}
}

// add takes the star's place at time t, and returns how far it has moved since
// the last place beyond its drift.
func (k *track) add(t float64, s r2.Vec) (moved r2.Vec) {
	if n := len(k.pts); n > 0 {
		last := k.pts[n-1]
		moved = r2.Sub(r2.Sub(s, last.s), r2.Scale(t-last.t, k.drift))
		if t-last.t > 1.5 {
			k.pts = k.pts[:0]
			k.still = math.NaN()
		}
	}
	k.pts = append(k.pts, point{t, s})
	for len(k.pts) > 2 && t-k.pts[0].t > 6 {
		k.pts = k.pts[1:]
	}
	k.jitter()
	if k.moving() {
		k.still = math.NaN()
	} else if math.IsNaN(k.still) {
		k.still = k.last(0.35)[0].t
	}
	return moved
}

// jitter learns the star's unrest from second differences, which a steady
// motion leaves at nought.
func (k *track) jitter() {
	n := len(k.pts)
	k.seen++
	const first = 20 // frames, in which nobody has been asked to move anything
	if n < 3 || math.IsNaN(k.still) && k.seen > first {
		return
	}
	learn := math.Max(0.03, 1/float64(k.seen))
	a, b, c := k.pts[n-3], k.pts[n-2], k.pts[n-1]
	d := r2.Add(r2.Sub(a.s, r2.Scale(2, b.s)), c.s)
	v := r2.Norm2(d) / 12 // var(a - 2b + c) = 6 var, two axes
	k.jit = math.Sqrt((1-learn)*k.jit*k.jit + learn*math.Min(v, 9*k.jit*k.jit))
}

// last returns the points of the last span seconds, two at least if there are.
func (k *track) last(span float64) []point {
	i := len(k.pts) - 1
	for i > 0 && (k.pts[len(k.pts)-1].t-k.pts[i-1].t <= span+1e-6 || i > len(k.pts)-2) {
		i--
	}
	return k.pts[i:]
}

// slope fits a line; ok is false for fewer than two times.
func slope(pts []point) (v r2.Vec, spread float64) {
	var mt float64
	var ms r2.Vec
	for _, p := range pts {
		mt += p.t / float64(len(pts))
		ms = r2.Add(ms, r2.Scale(1/float64(len(pts)), p.s))
	}
	for _, p := range pts {
		d := p.t - mt
		spread += d * d
		v = r2.Add(v, r2.Scale(d, r2.Sub(p.s, ms)))
	}
	if spread <= 0 {
		return r2.Vec{}, 0
	}
	return r2.Scale(1/spread, v), spread
}

// velocity returns how fast the star goes beyond its drift, mm/s, and the
// one-sigma of that.
func (k *track) velocity() (v r2.Vec, sd float64) {
	v, spread := slope(k.last(0.35))
	if spread == 0 {
		return r2.Vec{}, math.Inf(1)
	}
	return r2.Sub(v, k.drift), k.jit / math.Sqrt(spread)
}

// moving reports whether the star goes faster than drift and unrest explain.
func (k *track) moving() bool {
	if len(k.pts) < 2 {
		return false
	}
	v, sd := k.velocity()
	if k.known < 0.8 {
		return r2.Norm(v) > 0.4+4*sd // it may all be drift
	}
	return r2.Norm(v) > math.Max(0.05, 3.5*sd)
}

// learnDrift is called when nothing but the sky moves the star.
func (k *track) learnDrift(t float64) {
	if math.IsNaN(k.still) {
		return
	}
	var run []point
	for _, p := range k.pts {
		if p.t >= k.still {
			run = append(run, p)
		}
	}
	if len(run) < 5 || t-run[0].t < 0.8 {
		return
	}
	span := t - run[0].t
	if span < 0.5*k.known && k.known > 1.5 {
		return // a longer look is remembered
	}
	k.drift, _ = slope(run)
	k.known = math.Max(span, k.known)
}

// now returns a steadied present place: the mean of the last three, brought up
// to the newest time by the drift.
func (k *track) now() r2.Vec {
	n := min(3, len(k.pts))
	t := k.pts[len(k.pts)-1].t
	var s r2.Vec
	for _, p := range k.pts[len(k.pts)-n:] {
		s = r2.Add(s, r2.Scale(1/float64(n), r2.Add(p.s, r2.Scale(t-p.t, k.drift))))
	}
	return s
}
