package peephole

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// centreSearch looks for the mark on the mirror's centre and for the dark spot.
type centreSearch struct {
	*picture
	mm         float64 // px in a mm on the mirror
	silhouette Circle  // of the secondary in the mirror
}

// The radii of a mark that are tried, mm: a paper reinforcement ring from a stationer's
// is about 13 across, with a hole of 6 (common practice, no source); marks a third
// smaller and a quarter larger are allowed for.
var (
	markOuter = [...]float64{5, 6, 7, 8}
	markInner = [...]float64{2, 2.6, 3.3}
)

const (
	misplaced = 5   // how far off the mirror's centre a mark may be stuck, mm
	keep      = 0.8 // px kept clear of each edge, which is never sharp
)

func (m centreSearch) find(v *View) {
	const markSigma = 0.1 // px, of its centre: compared with drawn scenes
	v.Mark, v.MarkPX, v.hole, v.Marked = m.mark(v.Primary.Centre)
	s, ok := m.spot(v)
	if v.Reflected = ok; ok {
		v.Spot, v.SpotPX, v.Sigma = s.at, s.r, math.Hypot(s.sigma, markSigma)
	}
}

// stat returns mean, SD and number of brightnesses on rings from r0 to r1 about c.
func (m centreSearch) stat(c r2.Vec, r0, r1 float64) (mean, sd float64, n int) {
	var s, s2 float64
	rings := max(1, min(int(r1-r0+0.5), 4))
	for k := range rings {
		r := r0 + (r1-r0)*(float64(k)+0.5)/float64(rings)
		dirs := max(4, min(int(4*r), 24))
		for i := range dirs {
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.5*float64(k%2)) / float64(dirs))
			if b, ok := m.At(c.X+r*cos, c.Y+r*sin); ok {
				s, s2, n = s+b, s2+b*b, n+1
			}
		}
	}
	if n == 0 {
		return 0, 0, 0
	}
	mean = s / float64(n)
	return mean, math.Sqrt(math.Max(s2/float64(n)-mean*mean, 0)), n
}

// contrast is how much brighter (or darker, < 0) paper at c would be than its hole
// and its surroundings, and the same in units of its scatter.
func (m centreSearch) contrast(c r2.Vec, outer, inner float64) (diff, score float64) {
	paper, sd, n := m.stat(c, inner+keep, math.Max(outer-keep, inner+keep+0.1))
	about, _, n2 := m.stat(c, outer+keep, outer+keep+math.Max(2, 0.25*outer))
	hole, _, n3 := m.stat(c, 0, math.Max(inner-keep, 0.5))
	if n < 8 || n2 < 8 || n3 < 1 {
		return 0, 0
	}
	diff = math.Max(math.Min(paper-about, paper-hole), 0)
	if paper < about && paper < hole { // a dark mark
		diff = math.Max(paper-about, paper-hole)
	}
	return diff, math.Abs(diff) / math.Hypot(sd, m.noise)
}

// mark looks for the paper ring about the mirror's centre. Lengths px.
func (m centreSearch) mark(centre r2.Vec) (at r2.Vec, outer, inner float64, ok bool) {
	const leastScore = 2.5 // contrast over its scatter (judgement)
	least := math.Max(3*m.noise, 0.05*(m.hi-m.lo))
	best := 0.0
	try := func(c r2.Vec, o, i float64) {
		if d, score := m.contrast(c, o, i); score > best && math.Abs(d) > least {
			best, at, outer, inner = score, c, o, i
		}
	}
	grid := func(c r2.Vec, reach, step float64, outers, inners []float64) {
		for dy := -reach; dy <= reach; dy += step {
			for dx := -reach; dx <= reach; dx += step {
				for _, o := range outers {
					for _, i := range inners {
						try(r2.Vec{X: c.X + dx, Y: c.Y + dy}, o*m.mm, i*m.mm)
					}
				}
			}
		}
	}
	grid(centre, misplaced*m.mm, math.Max(m.mm, 0.8), markOuter[:], markInner[1:2])
	if best == 0 {
		return at, 0, 0, false
	}
	grid(at, math.Max(m.mm, 0.8), math.Max(0.5*m.mm, 0.5), markOuter[:], markInner[:])
	if best < leastScore {
		return at, 0, 0, false
	}
	for step := 0.4 * m.mm; step > 0.05; step *= 0.6 {
		for _, d := range [...]r2.Vec{{X: step}, {X: -step}, {Y: step}, {Y: -step}} {
			try(r2.Add(at, d), outer, inner)
		}
		try(at, outer+step, inner)
		try(at, outer-step, inner)
	}
	// Its whole outer edge can be seen: nothing lies in front of it.
	sense := 1.0
	if d, _ := m.contrast(at, outer, inner); d < 0 {
		sense = -1
	}
	if c, ok := m.settle(Circle{Centre: at, Radius: outer}, sense, math.Max(0.25*outer, 2), least/2, 0.4, nil); ok && math.Abs(c.Radius-outer) < 0.4*outer {
		at, outer = c.Centre, c.Radius
	}
	return at, outer, inner, true
}
