package drive

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/observe"
)

// How long the drive looks at the star while nothing moves, seconds: at first long enough
// to measure its drift, later only its place. Judgement.
const (
	firstLook  = 2.0
	thenLook   = 0.5
	settleTime = 0.3
	leastLooks = 5
	patience   = 2.5 // a star that is not seen for so long is lost
)

// view is what a still look at the star showed.
type view struct {
	t             float64
	width, height int
	seen          bool
	star          r2.Vec  // px
	drift         r2.Vec  // px/s, by itself
	driftSD       float64 // one-sigma, px/s; 0 but for the first look
	sd            float64 // one-sigma of star, px
	found         bool
	radius        float64 // px
	radiusSD      float64
}

// eye gathers looks into a view.
type eye struct {
	settle  float64 // looks before this time do not count
	rings   bool    // only looks with a ring fill it
	longest float64 // how long it looks, s
	begun   bool
	start   float64
	looks   []observe.Sight
	drift   r2.Vec
	known   bool // the drift
}

// see takes in a look; ready says that there is a view.
func (e *eye) see(l observe.Sight) (v view, ready bool) {
	if l.T < e.settle {
		return v, false
	}
	if !e.begun {
		e.begun, e.start = true, l.T
	}
	if l.Seen {
		e.looks = append(e.looks, l)
	}
	late := l.T-e.start > patience
	n, rings := len(e.looks), 0
	for _, k := range e.looks {
		if k.Found {
			rings++
		}
	}
	full := n >= leastLooks && l.T-e.looks[0].T >= e.longest-1e-9 && (!e.rings || rings >= leastLooks)
	if !full && !late {
		return v, false
	}
	v = view{t: l.T, width: l.Width, height: l.Height}
	if n >= leastLooks {
		v = e.view(v)
	}
	e.looks, e.begun, e.longest = nil, false, thenLook
	return v, true
}

func (e *eye) view(v view) view {
	n := float64(len(e.looks))
	rings := 0.0
	var meanT, squares float64
	for _, l := range e.looks {
		v.star = r2.Add(v.star, r2.Scale(1/n, l.Star))
		meanT += l.T / n
		if l.Found {
			rings++
			v.radius += l.Radius
			squares += l.Radius * l.Radius
		}
	}
	v.seen, v.t = true, meanT
	if rings >= leastLooks {
		v.found = true
		v.radius /= rings
		v.radiusSD = math.Sqrt(math.Max(squares/rings-v.radius*v.radius, 0) / rings)
	}
	var slope r2.Vec
	var spread, scatter float64
	for _, l := range e.looks {
		dt := l.T - meanT
		spread += dt * dt
		slope = r2.Add(slope, r2.Scale(dt, r2.Sub(l.Star, v.star)))
	}
	slope = r2.Scale(1/spread, slope)
	first := !e.known
	if first {
		e.drift, e.known = slope, true
	}
	for _, l := range e.looks {
		scatter += r2.Norm2(r2.Sub(r2.Sub(l.Star, v.star), r2.Scale(l.T-meanT, slope)))
	}
	single := math.Sqrt(scatter / (2 * (n - 2)))
	v.drift, v.sd = e.drift, single/math.Sqrt(n)
	if first {
		v.driftSD = single / math.Sqrt(spread)
	}
	return v
}

// moved is how far the star went from one view to another beyond its drift, and
// how much of that may be chance: five sigma, and no less than two pixels.
func moved(from, to view) (d r2.Vec, chance float64) {
	dt := to.t - from.t
	d = r2.Sub(r2.Sub(to.star, from.star), r2.Scale(dt, from.drift))
	return d, math.Max(2, 5*math.Hypot(from.sd, to.sd))
}
