package ring

import (
	"math"

	"halocue/internal/frame"
)

// outline is what the edges alone tell: circles through where the light along
// each radius passes half of its own brightness there. Coma brightens one side
// of the ring, so a level common to the whole ring would lose 7 to 30 % of the
// offset (design 2.5).
type outline struct {
	outer, inner         Circle
	outerSpread          float64 // robust RMS distance of the edge points, px
	innerSpread          float64
	outerNoise           float64 // what noise does to the centre, px per axis
	innerNoise           float64
	loose                float64 // how much less certain a centre is for the arc that is missing, 1 where none is
	outerSeen, innerSeen float64 // fraction of all directions with a good edge
	light                float64 // median brightness of the ring, ADU over the sky
	dark                 float64 // the same inside the shadow
	offFrame             float64 // fraction of directions whose outer edge is off the frame
	clipped              float64 // fraction of ring samples at the clipping level
	hole                 bool    // there is a shadow
	coarse               int     // side of the squares that it took to see it, px, 0 where it took none
}

const (
	rays       = 180
	outerSteps = 110  // samples of a ray across the ring
	outerReach = 1.45 // ring radii
	innerSteps = 70   // samples of a ray from the shadow's centre
	innerReach = 0.75
)

// tracer finds outlines; it owns its memory. One goroutine.
type tracer struct {
	cos, sin [rays]float64
	prof     [max(outerSteps, innerSteps)]float64
	tmp      []float64
	fit      circleFitter
}

func newTracer() *tracer {
	t := &tracer{tmp: make([]float64, 0, rays)}
	for k := range rays {
		t.sin[k], t.cos[k] = math.Sincos(2 * math.Pi * (float64(k) + 0.5) / rays)
	}
	return t
}

// trace refines a guessed ring and hole in rounds. f is in its own pixels, sky its
// sky, and clip the level from which a pixel counts as burnt out.
func (t *tracer) trace(f *frame.Frame, sky *plane3, ring, hole Circle, rounds int, clip float64) (o outline, ok bool) {
	first := hole
	for range rounds {
		if !t.outer(f, sky, &ring, clip, &o) {
			return o, false
		}
		t.inner(f, sky, ring, &hole, &o)
		if !o.hole {
			hole = Circle{ring.X, ring.Y, first.Radius}
		}
	}
	o.outer, o.inner = ring, hole
	return o, true
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

// outer finds the outer edge: along each ray inward, the first crossing of half
// the brightness of the ring's outer part.
func (t *tracer) outer(f *frame.Frame, sky *plane3, ring *Circle, clip float64, o *outline) bool {
	const a, b = outerSteps * 55 / 145, outerSteps * 92 / 145 // from 0.55 to 0.92 radii
	step := outerReach * ring.Radius / outerSteps
	burn := clip - sky.at(ring.X, ring.Y)
	off, lit, burnt := 0, 0, 0
	t.tmp = t.tmp[:0]
	t.fit.reset()
	for k := range rays {
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
		t.tmp = append(t.tmp, s)
		half := 0.5 * s
		if m < outerSteps && t.prof[m-1] > half {
			off++
			continue
		}
		for i := m - 1; s > 0 && i > a; i-- {
			if p, q := t.prof[i-1], t.prof[i]; p >= half && q < half {
				r := (float64(i-1) + (p-half)/(p-q)) * step
				t.fit.add(ring.X+r*t.cos[k], ring.Y+r*t.sin[k])
				break
			}
		}
	}
	o.offFrame = float64(off) / rays
	o.clipped = float64(burnt) / float64(max(1, lit))
	o.light = middle(t.tmp)
	if len(t.fit.x) < rays/6 {
		return false
	}
	c, ok := t.fit.robust()
	o.outerSpread, o.outerSeen = t.fit.spread, t.fit.used*float64(len(t.fit.x))/rays
	o.outerNoise, o.loose = t.fit.noise(), t.fit.loose
	*ring = c
	return ok && c.Radius > 3 && c.Radius < 4*float64(max(f.Width, f.Height))
}

// inner finds the shadow's edge: along each ray from the ring inward, the first
// crossing of half the brightness just outside the shadow.
func (t *tracer) inner(f *frame.Frame, sky *plane3, ring Circle, hole *Circle, o *outline) {
	step := innerReach * ring.Radius / innerSteps
	t.tmp = t.tmp[:0]
	t.fit.reset()
	o.hole = false
	dn := int(0.6 * hole.Radius / step)
	a := int(1.5 * hole.Radius / step)
	if dn < 1 || a < 2 || a >= innerSteps {
		return
	}
	for k := range rays {
		m := t.profile(f, sky, hole.X, hole.Y, k, step, innerSteps)
		b := min(int(2.4*hole.Radius/step)+1, m)
		if b <= a {
			continue
		}
		t.tmp = append(t.tmp, average(t.prof[dn/3:dn]))
		half := 0.5 * average(t.prof[a:b])
		for i := a; half > 0 && i > 0; i-- {
			if p, q := t.prof[i-1], t.prof[i]; p < half && q >= half {
				r := (float64(i-1) + (half-p)/(q-p)) * step
				t.fit.add(hole.X+r*t.cos[k], hole.Y+r*t.sin[k])
				break
			}
		}
	}
	o.dark = middle(t.tmp)
	if len(t.fit.x) < rays/3 {
		return
	}
	c, ok := t.fit.robust()
	if !ok || c.Radius > 0.8*ring.Radius || math.Hypot(c.X-ring.X, c.Y-ring.Y) > 0.8*ring.Radius {
		return
	}
	*hole = c
	o.innerNoise, o.loose = t.fit.noise(), max(o.loose, t.fit.loose)
	o.innerSpread, o.innerSeen = t.fit.spread, t.fit.used*float64(len(t.fit.x))/rays
	o.hole = o.dark < 0.7*o.light
}

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
