package hands

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Track follows the star from frame to frame: where it is, how fast it goes, how
// fast it drifts when nothing is touched. Lengths mm, times seconds. NewTrack
// makes one; only LearnDrift writes Drift and Known, only Add the others.
type Track struct {
	Drift  r2.Vec  // how fast the sky moves the star, mm/s
	Known  float64 // seconds of stillness behind the drift's estimate, >= 0
	Still  float64 // the time since which the star has only drifted; NaN while it moves
	Jitter float64 // RMS of the star about a smooth path, mm per axis, > 0
	Shaken float64 // the unrest of the last half second or so, in squares of Jitter, >= 0

	pts  []Point
	seen int // places so far
}

// Point is a place and its time.
type Point struct {
	T  float64 // seconds
	At r2.Vec  // mm
}

// NewTrack returns a track for a telescope of the given focal length, mm: the jitter to
// begin with is 2e-6 of it, 0.4 arcsec (judgement; some frames correct it).
func NewTrack(focalLength float64) *Track {
	return &Track{Still: math.NaN(), Jitter: focalLength * 2e-6}
}

// Add takes the star's place at time t, and returns how far it has moved since
// the last place beyond its drift.
func (k *Track) Add(t float64, s r2.Vec) (moved r2.Vec) {
	if n := len(k.pts); n > 0 {
		last := k.pts[n-1]
		moved = r2.Sub(r2.Sub(s, last.At), r2.Scale(t-last.T, k.Drift))
		if t-last.T > 1.5 {
			k.pts = k.pts[:0]
			k.Still = math.NaN()
		}
	}
	k.pts = append(k.pts, Point{t, s})
	for len(k.pts) > 2 && t-k.pts[0].T > 6 {
		k.pts = k.pts[1:]
	}
	k.jitter()
	if k.Moving() {
		k.Still = math.NaN()
	} else if math.IsNaN(k.Still) {
		k.Still = k.Last(0.35)[0].T
	}
	return moved
}

// jitter learns the star's unrest from second differences, which are 0 for a steady
// motion.
func (k *Track) jitter() {
	n := len(k.pts)
	k.seen++
	const first = 20 // frames, before anything is asked of the hands
	if n < 3 {
		return
	}
	a, b, c := k.pts[n-3], k.pts[n-2], k.pts[n-1]
	d := r2.Add(r2.Sub(a.At, r2.Scale(2, b.At)), c.At)
	v := r2.Norm2(d) / 12 // var(a - 2b + c) = 6 var, two axes
	k.Shaken += 0.25 * (v/(k.Jitter*k.Jitter) - k.Shaken)
	if math.IsNaN(k.Still) && k.seen > first {
		return
	}
	learn := math.Max(0.03, 1/float64(k.seen))
	k.Jitter = math.Sqrt((1-learn)*k.Jitter*k.Jitter + learn*math.Min(v, 9*k.Jitter*k.Jitter))
}

// Last returns the points of the last span seconds, oldest first, two at least if there are.
func (k *Track) Last(span float64) []Point {
	i := len(k.pts) - 1
	for i > 0 && (k.pts[len(k.pts)-1].T-k.pts[i-1].T <= span+1e-6 || i > len(k.pts)-2) {
		i--
	}
	return k.pts[i:]
}

// Slope fits a line through points by least squares: its slope, mm/s, and the sum of the
// squares of the times about their mean, s^2, which is 0 for fewer than two times. gonum's
// stat.LinearRegression takes 13 times as long, three slices and more lines
// (go test ./internal/hands -bench Slope: 0.05 and 0.63 us on x86).
func Slope(pts []Point) (v r2.Vec, spread float64) {
	var mt float64
	var ms r2.Vec
	for _, p := range pts {
		mt += p.T / float64(len(pts))
		ms = r2.Add(ms, r2.Scale(1/float64(len(pts)), p.At))
	}
	for _, p := range pts {
		d := p.T - mt
		spread += d * d
		v = r2.Add(v, r2.Scale(d, r2.Sub(p.At, ms)))
	}
	if spread <= 0 {
		return r2.Vec{}, 0
	}
	return r2.Scale(1/spread, v), spread
}

// Velocity returns how fast the star goes beyond its drift, mm/s, and the
// one-sigma of that.
func (k *Track) Velocity() (v r2.Vec, sd float64) {
	v, spread := Slope(k.Last(0.35))
	if spread == 0 {
		return r2.Vec{}, math.Inf(1)
	}
	return r2.Sub(v, k.Drift), k.Jitter / math.Sqrt(spread)
}

// Moving reports whether the star goes faster than drift and unrest explain.
func (k *Track) Moving() bool {
	if len(k.pts) < 2 {
		return false
	}
	v, sd := k.Velocity()
	if k.Known < 0.8 {
		return r2.Norm(v) > 0.4+4*sd // it may all be drift
	}
	return r2.Norm(v) > math.Max(0.05, 3.5*sd)
}

// LearnDrift takes the star's motion for drift; it is called at time t, seconds, when
// nothing but the sky moves the star. A longer look than this one is kept.
func (k *Track) LearnDrift(t float64) {
	if math.IsNaN(k.Still) {
		return
	}
	run := k.pts
	for len(run) > 0 && run[0].T < k.Still {
		run = run[1:]
	}
	if len(run) < 5 || t-run[0].T < 0.8 {
		return
	}
	span := t - run[0].T
	if span < 0.5*k.Known && k.Known > 1.5 {
		return // a longer look is remembered
	}
	k.Drift, _ = Slope(run)
	k.Known = math.Max(span, k.Known)
}

// Now returns a steadied present place, mm: the mean of the last three, brought up
// to the newest time by the drift.
func (k *Track) Now() r2.Vec {
	n := min(3, len(k.pts))
	t := k.pts[len(k.pts)-1].T
	var s r2.Vec
	for _, p := range k.pts[len(k.pts)-n:] {
		s = r2.Add(s, r2.Scale(1/float64(n), r2.Add(p.At, r2.Scale(t-p.T, k.Drift))))
	}
	return s
}
