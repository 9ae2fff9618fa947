package ring

import (
	"math"

	"halocue/internal/frame"
)

// leastLean is the least offset, in ring radii, that a model is made with.
const leastLean = 0.06

// bias is what the edge rule adds to the geometric circles of a ring like the
// one being followed: found by outlining the model's own picture.
type bias struct {
	known   bool
	r       float64 // the ring it was made for: radius, px,
	lean    float64 // and offset, radii
	burnt   bool    // and whether it is burnt out
	level   float64 // and at which part of its light it was cut, 1 if not
	add     shift
	picture frame.Frame
}

// shift is measured less true, ring radii. By symmetry what moves a centre lies
// along the offset and grows with it: it is kept for each radius of true offset.
type shift struct {
	r, oh    float64 // the ring's radius, the shadow's radius
	ring, of float64 // the ring's centre, the offset
}

// undo returns the geometric radius and offset of an outline.
func (s *shift) undo(o *outline) (r, ox, oy float64) {
	r = o.outer.Radius / (1 + s.r)
	per := 1 / (r * (1 + s.of))
	return r, (o.inner.X - o.outer.X) * per, (o.inner.Y - o.outer.Y) * per
}

// correct turns an outline into geometric circles. The model is rendered afresh
// only where the ring has become another one.
func (m *Meter) correct(o *outline) {
	b := &m.bias
	burnt := o.clipped > burntOut
	if !b.known || b.burnt != burnt {
		in := m.inside(o.outer.Radius)
		b.add = shift{r: -in, oh: in}
		b.known = false
	}
	r, ox, oy := b.add.undo(o)
	if lean := max(leastLean, math.Hypot(ox, oy)); !b.known || math.Abs(r/b.r-1) > 0.03 || math.Abs(lean/b.lean-1) > 0.3 {
		for range 2 { // the first look is from where the biased circles are
			b.known = m.learnBias(r, max(leastLean, math.Hypot(ox, oy)), burnt, o.inner.Radius/o.outer.Radius)
			r, ox, oy = b.add.undo(o)
		}
	}
	x, y := o.outer.X-b.add.ring*ox*r, o.outer.Y-b.add.ring*oy*r
	o.outer = Circle{x, y, r}
	o.inner = Circle{x + ox*r, y + oy*r, max(o.inner.Radius-b.add.oh*r, 0.1*o.inner.Radius)}
}

// learnBias outlines a model of radius r px and an offset of lean radii. Where the
// ring is burnt out, its brightness is unknown; but the higher it is, the wider
// the ring and the smaller the shadow look: the brightness is taken at which
// their ratio is the one that was seen.
func (m *Meter) learnBias(r, lean float64, burnt bool, ratio float64) bool {
	if !(r > 3 && lean < 0.6) {
		return false
	}
	b := &m.bias
	c := m.canvasOf(128, 3)
	var q params
	q[pR], q[pEps], q[pBlur] = r, m.eps, 1
	q[pOX] = lean
	q[pKX] = -lean / (1 - m.eps*m.eps)
	c.draw(&q, m.fresnelPerPx(), 0, float64(m.crop.bin))
	b.picture.Width, b.picture.Height, b.picture.Pix = c.n, c.n, c.dull
	b.r, b.lean, b.burnt = r, lean, burnt
	add, _, ok := m.outlineModel(&q)
	if !burnt || !ok {
		b.add, b.level = add, 1
		return ok
	}
	best := math.Inf(1)
	for level := float32(0.9); level > 0.1; level *= 0.8 {
		for i, v := range c.dull {
			c.dull[i] = min(v, level)
		}
		if s, seen, ok := m.outlineModel(&q); ok && math.Abs(seen-ratio) < best {
			best, b.add, b.level = math.Abs(seen-ratio), s, float64(level)
		}
	}
	return best < 0.1
}

// outlineModel outlines the picture of q, which leans along x, and returns what the edge rule adds,
// and the shadow's radius over the ring's.
func (m *Meter) outlineModel(q *params) (add shift, ratio float64, ok bool) {
	b := &m.bias
	mid, unit := float64(b.picture.Width/2), float64(b.picture.Width)/span
	in := m.inside(q[pR])
	ring := Circle{mid, mid, unit * (1 - in)}
	hole := Circle{mid + q[pOX]*unit, mid, unit * (q[pEps] + in)}
	o, ok := m.trace.trace(&b.picture, &plane3{}, ring, hole, 3, math.Inf(1))
	if !ok || !o.hole {
		return add, 0, false
	}
	add = shift{
		r: o.outer.Radius/unit - 1, oh: o.inner.Radius/unit - q[pEps],
		ring: (o.outer.X - mid) / (unit * q[pOX]),
		of:   (o.inner.X-o.outer.X)/(unit*q[pOX]) - 1,
	}
	return add, o.inner.Radius / o.outer.Radius, true
}
