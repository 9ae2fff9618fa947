package ring

import (
	"math"

	"halocue/internal/frame"
)

const (
	leastLean = 0.06 // the least offset, in ring radii, that a model is made with
	someBlur  = 0.5  // px^2: between a perfect picture and a soft one
)

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
	unit    float64 // its ring's radius,
	mid     float64 // and centre, px
	light   []float32
	cut     []float32 // the same, burnt out
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
	grid := 128
	if burnt {
		grid = 256 // only the wings are left, which are all fringes
	}
	var q params
	q[pR], q[pEps], q[pBlur] = r, m.eps, someBlur
	q[pOX] = lean
	q[pKX] = -lean / (1 - m.eps*m.eps)
	b.expose(m.canvasOf(grid, 3), &q, m.fresnelPerPx(), m.crop.bin)
	b.r, b.lean, b.burnt = r, lean, burnt
	if burnt {
		return m.learnLevel(&q, ratio)
	}
	b.picture.Pix = b.light
	add, _, ok := m.outlineModel(&q)
	b.add, b.level = add, 1
	return ok
}

// expose draws the star of q as a camera sees it whose pixels are squares of bin
// px: the same edges, sampled alike.
func (b *bias) expose(c *canvas, q *params, fresnel float64, bin int) {
	c.draw(q, fresnel, 0, float64(bin))
	b.unit = q[pR] / float64(bin)
	half := int(reach*b.unit) + 1
	b.mid = float64(half)
	side := 2*half + 1
	b.picture.Width, b.picture.Height = side, side
	b.light, b.cut = resized(b.light, side*side), resized(b.cut, side*side)
	var t tap
	for i := range b.light {
		b.light[i] = 0
		if c.tapAt((float64(i%side)-b.mid)/b.unit, (float64(i/side)-b.mid)/b.unit, &t) {
			b.light[i] = float32(c.value(c.dull, &t))
		}
	}
}

func resized(v []float32, n int) []float32 {
	if cap(v) < n {
		return make([]float32, n)
	}
	return v[:n]
}

// learnLevel finds the brightness of a burnt-out ring: the level, as a part of its
// light, at which the picture of q must be cut for its shadow and ring to have the
// ratio that was seen. First down in steps, then between the two that enclose it.
func (m *Meter) learnLevel(q *params, ratio float64) bool {
	b := &m.bias
	b.picture.Pix = b.cut
	best := math.Inf(1)
	miss := func(level float64) float64 { // NaN where there is no outline
		for i, v := range b.light {
			b.cut[i] = min(v, float32(level))
		}
		add, seen, ok := m.outlineModel(q)
		if !ok {
			return math.NaN()
		}
		if math.Abs(seen-ratio) < best {
			best, b.add, b.level = math.Abs(seen-ratio), add, level
		}
		return seen - ratio
	}
	const step = 0.85
	last := math.NaN()
	for high := 0.95; high > 0.06; high *= step {
		now := miss(high)
		if now*last < 0 {
			low := high
			for high /= step; high-low > 0.005*low; {
				mid := (high + low) / 2
				if miss(mid)*last > 0 {
					high = mid
				} else {
					low = mid
				}
			}
			break
		}
		last = now
	}
	return best < 0.1
}

// outlineModel outlines the picture of q, which leans along x, and returns what
// the edge rule adds, and the shadow's radius over the ring's.
func (m *Meter) outlineModel(q *params) (add shift, ratio float64, ok bool) {
	b := &m.bias
	in := m.inside(q[pR])
	ring := Circle{b.mid, b.mid, b.unit * (1 - in)}
	hole := Circle{b.mid + q[pOX]*b.unit, b.mid, b.unit * (q[pEps] + in)}
	o, ok := m.trace.trace(&b.picture, &plane3{}, ring, hole, 3, math.Inf(1))
	if !ok || !o.hole {
		return add, 0, false
	}
	add = shift{
		r: o.outer.Radius/b.unit - 1, oh: o.inner.Radius/b.unit - q[pEps],
		ring: (o.outer.X - b.mid) / (b.unit * q[pOX]),
		of:   (o.inner.X-o.outer.X)/(b.unit*q[pOX]) - 1,
	}
	return add, o.inner.Radius / o.outer.Radius, true
}
