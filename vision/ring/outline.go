package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// outline is the measurement by edges alone: circles through the places where the light
// along each ray passes half of that ray's brightness. Coma makes one side of the ring
// brighter, so one level for the whole ring would lose 7 to 30 % of the offset.
type outline struct {
	outer, inner         Circle
	outerSpread          float64 // robust RMS distance of the edge points, px
	innerSpread          float64
	outerNoise           float64 // error of its centre by what deforms the edge, px per axis
	innerNoise           float64
	outerLight           float64 // the part of that error that is noise of the light
	innerLight           float64
	arcDilution          float64 // factor on a centre's sigma for the arc that is missing, 1 where none is
	softness             float64 // distance in which the outer edge falls from half of the light beside it to a quarter, median, px
	outerSeen, innerSeen float64 // fraction with a good edge of all directions, and of those with light beside the shadow
	light                float64 // median brightness of the ring, ADU over the sky
	dark                 float64 // the same inside the shadow
	offFrame             float64 // fraction of directions whose outer edge is off the frame
	clipped              float64 // fraction of ring samples at the clipping level
	hole                 bool    // there is a shadow
	brighter             r2.Vec  // toward the brighter side: light beside the edge is 1 + brighter.u of its mean in direction u
	coarse               int     // side of the squares in which it was found, px; 0 where no binning was needed
}

const (
	rays       = 180
	outerSteps = 110  // samples of a ray across the ring
	outerReach = 1.45 // ring radii
	innerSteps = 120  // samples of a ray from the shadow's centre
	innerReach = 1.28
)

// tracer finds outlines; it owns its memory. One goroutine.
type tracer struct {
	cos, sin [rays]float64
	prof     [max(outerSteps, innerSteps)]float64
	bright   [rays]float64 // light beside the edge of each ray, 0 where there is none
	edge     [rays]float64 // where the ray crosses the edge, px from its origin, 0 where it does not
	falls    []float64     // distance in which a ray falls from half to a quarter of its light, px
	tmp      []float64
	fit      robust.Fitter
	dark     darkPlaces
}

func newTracer() *tracer {
	t := &tracer{tmp: make([]float64, 0, rays), falls: make([]float64, 0, rays)}
	for k := range rays {
		t.sin[k], t.cos[k] = math.Sincos(2 * math.Pi * (float64(k) + 0.5) / rays)
	}
	return t
}

// trace outlines the ring near a guess, and the shadow wherever in it: outward from
// each dark place within the ring, of which the one with the clearest round edge is
// the shadow. f is in its own pixels, sky its sky, and clip the level from which a
// pixel counts as burnt out. o.hole is false where there is no shadow.
func (t *tracer) trace(f *frame.Frame, sky *plane3, ring Circle, clip float64) (o outline, ok bool) {
	for range 3 {
		if !t.outer(f, sky, &ring, Circle{}, clip, &o) {
			return o, false
		}
	}
	o.outer = ring
	best := 0.0
	for _, hole := range t.dark.find(f, sky, ring, o.light) {
		r, ok := t.refine(f, sky, ring, hole, 4, clip)
		if !ok || !r.hole {
			continue
		}
		if c := r.clarity(); c > best {
			best, o = c, r
		}
	}
	if best == 0 {
		o.dark = t.level(f, sky, Circle{X: ring.X, Y: ring.Y, Radius: 0.2 * ring.Radius})
	}
	return o, true
}

// clarity is how clear a shadow's edge is, 0 to 1: how much of it is seen, how dark it is
// inside and how near it is to a circle.
func (o *outline) clarity() float64 {
	depth := 1 - max(0, o.dark)/max(o.light, 1e-9)
	return o.innerSeen * max(0, depth) * max(0, 1-o.innerSpread/(raggedHole*o.inner.Radius))
}

// raggedHole is the spread of an edge, of its radius, from which it is no shadow's. An
// ellipse with axes of 1.5 to 1 has 0.2 (derived: half the difference of the axes is a
// fifth of their mean, and 1.48 median |cos| is 1.05); the rest is room for noise.
const raggedHole = 0.35

// refine follows a guessed ring and hole to their edges in rounds.
func (t *tracer) refine(f *frame.Frame, sky *plane3, ring, hole Circle, rounds int, clip float64) (o outline, ok bool) {
	for range rounds {
		if !t.outer(f, sky, &ring, hole, clip, &o) {
			return o, false
		}
		t.inner(f, sky, ring, &hole, &o)
		if !o.hole {
			break
		}
	}
	o.outer, o.inner = ring, hole
	return o, true
}

// level returns the median light over the sky within a circle.
func (t *tracer) level(f *frame.Frame, sky *plane3, c Circle) float64 {
	t.tmp = t.tmp[:0]
	for k := range rays {
		if m := t.profile(f, sky, c.X, c.Y, k, c.Radius/8, 8); m == 8 {
			t.tmp = append(t.tmp, average(t.prof[2:8]))
		}
	}
	return robust.Median(t.tmp)
}

// profile samples ray k from (cx, cy) at radii 0, step, ..., n of them, less sky,
// by bilinear interpolation, and returns how many are on the frame.
func (t *tracer) profile(f *frame.Frame, sky *plane3, cx, cy float64, k int, step float64, n int) int {
	dx, dy := step*t.cos[k], step*t.sin[k]
	xmax, ymax := float64(f.Width-1), float64(f.Height-1)
	for i := range n {
		x, y := cx+float64(i)*dx, cy+float64(i)*dy
		if !(x >= 0 && y >= 0 && x < xmax && y < ymax) {
			return i
		}
		col, row := int(x), int(y)
		u, w := x-float64(col), y-float64(row)
		p := f.Pix[row*f.Width+col:][:2]
		q := f.Pix[(row+1)*f.Width+col:][:2]
		t.prof[i] = (1-w)*((1-u)*float64(p[0])+u*float64(p[1])) + w*((1-u)*float64(q[0])+u*float64(q[1])) - sky.at(x, y)
	}
	return n
}

// leaves returns how far from (x, y) the ray k leaves the circle c; 0 where it
// misses it or the circle lies behind.
func (t *tracer) leaves(c Circle, x, y float64, k int) float64 {
	dx, dy := c.X-x, c.Y-y
	along, across := dx*t.cos[k]+dy*t.sin[k], dy*t.cos[k]-dx*t.sin[k]
	d := c.Radius*c.Radius - across*across
	if d <= 0 {
		return 0
	}
	return max(0, along+math.Sqrt(d))
}

// thinnest is the width of the lit zone between shadow and ring, ring radii, below which
// blur hides its brightness (judgement).
const thinnest = 0.1

// outer finds the outer edge: along each ray inward, the first crossing of half
// the brightness of the ring's outer part. A hole of no radius is not known yet.
func (t *tracer) outer(f *frame.Frame, sky *plane3, ring *Circle, hole Circle, clip float64, o *outline) bool {
	if !(ring.Radius > leastTraced) {
		return false
	}
	step := outerReach * ring.Radius / outerSteps
	burn := clip - sky.at(ring.X, ring.Y)
	off, lit, burnt, seen := 0, 0, 0, 0
	t.falls = t.falls[:0]
	for k := range rays {
		t.bright[k], t.edge[k] = 0, 0
		from := t.leaves(hole, ring.X, ring.Y, k)
		wide := ring.Radius - from
		if wide < thinnest*ring.Radius {
			continue
		}
		// The outer 0.45 to 0.08 radii of the lit zone, and no more of it than 0.85 to 0.15.
		a := int(max(0.55*ring.Radius, from+0.15*wide) / step)
		b := int(max(0.92*ring.Radius, ring.Radius-0.15*wide) / step)
		m := t.profile(f, sky, ring.X, ring.Y, k, step, outerSteps)
		if m < b {
			off++
			continue
		}
		s := 0.0
		for _, v := range t.prof[a:b] {
			s += v
			if v >= burn {
				burnt++
			}
		}
		lit += b - a
		s /= float64(b - a)
		t.bright[k] = s
		seen++
		half := 0.5 * s
		if m < outerSteps && t.prof[m-1] > half {
			off++
			continue
		}
		quarter := 0.0 // where the light last passed a quarter, samples
		for i := m - 1; s > 0 && i > a; i-- {
			p, q := t.prof[i-1], t.prof[i]
			if p >= half/2 && q < half/2 {
				quarter = float64(i-1) + (p-half/2)/(p-q)
			}
			if p >= half && q < half {
				at := float64(i-1) + (p-half)/(p-q)
				t.edge[k] = at * step
				if quarter > 0 {
					t.falls = append(t.falls, (quarter-at)*step)
				}
				break
			}
		}
	}
	o.softness = robust.Median(t.falls)
	o.offFrame = float64(off) / rays
	o.clipped = float64(burnt) / float64(max(1, lit))
	o.light, _ = t.fitEdge(ring.X, ring.Y)
	o.brighter = t.brighter(o.light)
	if len(t.fit.X) < rays/6 {
		return false
	}
	c, ok := t.fit.Fit(rays)
	o.outerSpread, o.outerSeen = t.fit.Spread, t.fit.Used*float64(len(t.fit.X))/rays
	o.outerNoise, o.outerLight, o.arcDilution = t.fit.Noise, t.fit.Light, t.fit.ArcDilution
	*ring = c
	return ok && c.Radius > leastTraced && c.Radius < 4*float64(max(f.Width, f.Height))
}

// leastTraced is the least radius of an outline, px.
const leastTraced = 3

// dimmest is the part of the median brightness below which a ray is too dark for the half
// level: it lies in a vane, or where the shadow touches the edge (judgement).
const dimmest = 0.25

// fitEdge hands the edges found on rays from (x, y) to the circle fit and returns
// the median brightness beside them and the number of rays with any.
func (t *tracer) fitEdge(x, y float64) (light float64, lit int) {
	t.tmp = t.tmp[:0]
	for k := range rays {
		if t.bright[k] != 0 {
			t.tmp = append(t.tmp, t.bright[k])
		}
	}
	light, lit = robust.Median(t.tmp), len(t.tmp)
	t.fit.Reset()
	for k, r := range t.edge {
		if r > 0 && t.bright[k] > dimmest*light {
			t.fit.Add(x+r*t.cos[k], y+r*t.sin[k])
		}
	}
	return light, lit
}

// brighter returns toward which side the light beside the edge grows: twice the
// mean of (light / median - 1) times direction.
func (t *tracer) brighter(light float64) (v r2.Vec) {
	if !(light > 0) {
		return v
	}
	n := 0.0
	for k, s := range t.bright {
		if s != 0 {
			d := min(s/light, 4) - 1
			v, n = r2.Add(v, r2.Vec{X: d * t.cos[k], Y: d * t.sin[k]}), n+1
		}
	}
	return r2.Scale(2/max(n, 1), v)
}

// inner finds the shadow's edge: along each ray from the ring inward, the first
// crossing of half the brightness just outside the shadow.
func (t *tracer) inner(f *frame.Frame, sky *plane3, ring Circle, hole *Circle, o *outline) {
	step := innerReach * ring.Radius / innerSteps
	o.hole, o.dark = false, 0
	dn := int(0.6 * hole.Radius / step)
	if dn < 1 {
		return
	}
	t.tmp = t.tmp[:0]
	for k := range rays {
		t.bright[k], t.edge[k] = 0, 0
		wide := t.leaves(ring, hole.X, hole.Y, k) - hole.Radius
		if wide < thinnest*ring.Radius {
			continue
		}
		// From half to 1.4 of the shadow's radius beyond its edge, where so much is lit.
		wide = min(1.4*hole.Radius, 0.85*wide)
		a, b := int((hole.Radius+0.36*wide)/step), min(int((hole.Radius+wide)/step)+1, innerSteps)
		b = t.profile(f, sky, hole.X, hole.Y, k, step, b)
		if b <= a {
			continue
		}
		t.tmp = append(t.tmp, average(t.prof[dn/3:dn]))
		t.bright[k] = average(t.prof[a:b])
		half := 0.5 * t.bright[k]
		for i := a; half > 0 && i > 0; i-- {
			if p, q := t.prof[i-1], t.prof[i]; p < half && q >= half {
				t.edge[k] = (float64(i-1) + (half-p)/(q-p)) * step
				break
			}
		}
	}
	dark := robust.Median(t.tmp)
	_, lit := t.fitEdge(hole.X, hole.Y)
	if len(t.fit.X) < rays/4 {
		return
	}
	c, ok := t.fit.Fit(rays)
	if !ok || math.Hypot(c.X-ring.X, c.Y-ring.Y)+c.Radius > farthest*ring.Radius {
		return
	}
	*hole = c
	o.innerNoise, o.innerLight, o.arcDilution = t.fit.Noise, t.fit.Light, max(o.arcDilution, t.fit.ArcDilution)
	o.innerSpread, o.innerSeen = t.fit.Spread, t.fit.Used*float64(len(t.fit.X))/float64(lit)
	o.dark, o.hole = dark, dark < 0.7*o.light
}

// farthest is how far from the ring's centre the shadow's edge may reach, ring
// radii: a shadow that touches the ring has 1, and its blurred outline hardly more.
const farthest = 1.05

func average(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(max(1, len(v)))
}

// plane3 is the sky: level and slopes per px about a place.
type plane3 struct{ x0, y0, v, gx, gy float64 }

func (p *plane3) at(x, y float64) float64 { return p.v + p.gx*(x-p.x0) + p.gy*(y-p.y0) }
