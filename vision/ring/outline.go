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
	outerSeen, innerSeen float64 // fraction of all directions with a good edge
	light                float64 // median brightness of the ring, ADU over the sky
	dark                 float64 // the same inside the shadow
	offFrame             float64 // fraction of directions whose outer edge is off the frame
	clipped              float64 // fraction of ring samples at the clipping level
	hole                 bool    // there is a shadow
}

const rays = 180

// tracer finds outlines; it owns its memory.
type tracer struct {
	cos, sin [rays]float64
	prof     []float64
	local    [rays]float64
	pts      []point
	w        []float64
	tmp      []float64
}

func newTracer() *tracer {
	t := &tracer{}
	for k := range rays {
		t.sin[k], t.cos[k] = math.Sincos(2 * math.Pi * (float64(k) + 0.5) / rays)
	}
	return t
}

// at samples f at (x, y) px by bilinear interpolation; ok is false off the frame.
func at(f *frame.Frame, x, y float64) (v float64, ok bool) {
	if !(x >= 0 && y >= 0 && x <= float64(f.Width-1) && y <= float64(f.Height-1)) {
		return 0, false
	}
	i, j := int(x), int(y)
	i, j = min(i, max(f.Width-2, 0)), min(j, max(f.Height-2, 0))
	u, w := x-float64(i), y-float64(j)
	if f.Width < 2 || f.Height < 2 {
		return float64(f.Pix[j*f.Width+i]), true
	}
	p := f.Pix[j*f.Width+i:]
	q := f.Pix[(j+1)*f.Width+i:]
	return (1-w)*((1-u)*float64(p[0])+u*float64(p[1])) + w*((1-u)*float64(q[0])+u*float64(q[1])), true
}

// profile samples one ray from (cx, cy) at radii 0, step, ... into t.prof and
// returns how many are on the frame. Each sample is the mean of width across.
func (t *tracer) profile(f *frame.Frame, sky *plane3, cx, cy float64, k int, step float64, n int) int {
	if cap(t.prof) < n {
		t.prof = make([]float64, n)
	}
	t.prof = t.prof[:n]
	for i := range n {
		r := float64(i) * step
		x, y := cx+r*t.cos[k], cy+r*t.sin[k]
		v, ok := at(f, x, y)
		if !ok {
			return i
		}
		t.prof[i] = v - sky.at(x, y)
	}
	return n
}

// trace refines a guessed ring. guess.inner.Radius is the shadow's if > 0.
func (t *tracer) trace(f *frame.Frame, sky *plane3, guess Circle, eps, clip float64) (o outline, ok bool) {
	ring, hole := guess, Circle{guess.X, guess.Y, guess.Radius * eps}
	for round := range 4 {
		if !t.outer(f, sky, &ring, clip, &o, round) {
			return o, false
		}
		if round == 0 {
			hole.X, hole.Y = ring.X, ring.Y
		}
		t.inner(f, sky, ring, &hole, eps, &o)
		if !o.hole {
			hole = Circle{ring.X, ring.Y, ring.Radius * eps}
		}
	}
	o.outer, o.inner = ring, hole
	return o, true
}

func (t *tracer) outer(f *frame.Frame, sky *plane3, ring *Circle, clip float64, o *outline, round int) bool {
	reach := 1.5
	n := 150
	step := reach * ring.Radius / float64(n)
	t.pts, t.w = t.pts[:0], t.w[:0]
	off, lit, burnt := 0, 0, 0
	t.tmp = t.tmp[:0]
	for k := range rays {
		m := t.profile(f, sky, ring.X, ring.Y, k, step, n)
		// brightness of the ring's outer part along this ray
		a, b := int(0.55/reach*float64(n)), int(0.92/reach*float64(n))
		if m < b {
			off++
			t.local[k] = 0
			continue
		}
		s := 0.0
		for _, v := range t.prof[a:b] {
			s += v
			lit++
			if v+sky.at(ring.X, ring.Y) >= clip {
				burnt++
			}
		}
		s /= float64(b - a)
		t.local[k] = s
		t.tmp = append(t.tmp, s)
		if s <= 0 {
			continue
		}
		if m < n && t.prof[m-1] > 0.5*s {
			off++
			continue
		}
		// outward from the bright part: the last crossing
		for i := m - 1; i > a; i-- {
			if t.prof[i-1] >= 0.5*s && t.prof[i] < 0.5*s {
				r := (float64(i-1) + (t.prof[i-1]-0.5*s)/(t.prof[i-1]-t.prof[i])) * step
				t.pts = append(t.pts, point{ring.X + r*t.cos[k], ring.Y + r*t.sin[k]})
				t.w = append(t.w, 1)
				break
			}
		}
	}
	o.offFrame = float64(off) / rays
	o.clipped = float64(burnt) / max(1, float64(lit))
	o.light = median(t.tmp)
	if len(t.pts) < rays/6 {
		return false
	}
	c, spread, used, ok := robustCircle(t.pts, t.w)
	if !ok {
		return false
	}
	o.outerSpread, o.outerSeen = spread, used*float64(len(t.pts))/rays
	*ring = c
	return c.Radius > 3 && c.Radius < 4*float64(max(f.Width, f.Height))
}

func (t *tracer) inner(f *frame.Frame, sky *plane3, ring Circle, hole *Circle, eps float64, o *outline) {
	n := 100
	reach := 0.75 * ring.Radius
	step := reach / float64(n)
	t.pts, t.w = t.pts[:0], t.w[:0]
	o.hole = false
	t.tmp = t.tmp[:0]
	for k := range rays {
		m := t.profile(f, sky, hole.X, hole.Y, k, step, n)
		dark := 0.0
		dn := int(0.6 * hole.Radius / step)
		if m <= dn || dn < 1 {
			continue
		}
		for _, v := range t.prof[dn/3 : dn] {
			dark += v
		}
		dark /= float64(dn - dn/3)
		t.tmp = append(t.tmp, dark)
		// brightness outside the shadow's edge along this ray
		a, b := int(1.5*hole.Radius/step), int(2.4*hole.Radius/step)
		b = min(b, m, n)
		if b <= a {
			continue
		}
		s := 0.0
		for _, v := range t.prof[a:b] {
			s += v
		}
		s /= float64(b - a)
		if s <= 0 {
			continue
		}
		for i := a; i > 0; i-- {
			if t.prof[i-1] < 0.5*s && t.prof[i] >= 0.5*s {
				r := (float64(i-1) + (0.5*s-t.prof[i-1])/(t.prof[i]-t.prof[i-1])) * step
				t.pts = append(t.pts, point{hole.X + r*t.cos[k], hole.Y + r*t.sin[k]})
				t.w = append(t.w, 1)
				break
			}
		}
	}
	o.dark = median(t.tmp)
	if len(t.pts) < rays/3 {
		return
	}
	c, spread, used, ok := robustCircle(t.pts, t.w)
	if !ok || c.Radius > 0.8*ring.Radius || math.Hypot(c.X-ring.X, c.Y-ring.Y) > 0.8*ring.Radius {
		return
	}
	*hole = c
	o.innerSpread, o.innerSeen = spread, used*float64(len(t.pts))/rays
	o.hole = o.dark < 0.7*o.light
}

// plane3 is the sky: level and slopes per px about a place.
type plane3 struct{ x0, y0, v, gx, gy float64 }

func (p *plane3) at(x, y float64) float64 { return p.v + p.gx*(x-p.x0) + p.gy*(y-p.y0) }
