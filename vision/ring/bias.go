package ring

import (
	"math"
	"slices"

	"halocue/vision/frame"
)

const (
	leastLean = 0.06 // the least offset, in ring radii, with which a model is made (judgement: many times the error of an outline)
	someBlur  = 0.5  // px^2: between a perfect picture and a soft one (judgement)
)

// bias is how far the outlines of a ring like the one being followed lie off its geometric
// circles: diffraction moves the place of half the light. It is found by outlining a picture
// of the model, whose circles are known.
type bias struct {
	learnt
	known   bool
	before  [8]learnt // the last ones: in moving air a ring comes back to them
	last    int       // place in before
	picture frame.Frame
	unit    float64 // radius of the ring in picture, px,
	mid     float64 // and its centre, x and y alike, px
	light   []float32
	cut     []float32 // light, burnt out
}

// learnt is one bias, and what it is good for.
type learnt struct {
	of      biasCase
	fresnel float64 // of the meter, per px of radius
	bin     int     // of its region
	add     shift
}

// shift is measured minus true. Radii are shifted by so many ring radii. A centre is shifted
// along the offset, by symmetry, and in proportion to it: by so many ring radii for each
// radius of true offset.
type shift struct {
	r, oh    float64 // of the ring's radius, and of the shadow's
	ring, of float64 // of the ring's centre, and of the offset
}

func (s shift) times(k float64) shift { return shift{s.r * k, s.oh * k, s.ring * k, s.of * k} }

// undo returns the geometric radius and offset of an outline.
func (s *shift) undo(o *outline) (r, ox, oy float64) {
	r = o.outer.Radius / (1 + s.r)
	per := 1 / (r * (1 + s.of))
	return r, (o.inner.X - o.outer.X) * per, (o.inner.Y - o.outer.Y) * per
}

// correct turns an outline into geometric circles. The model is rendered again only
// where the ring has changed.
func (m *Meter) correct(o *outline) {
	b := &m.bias
	burnt := o.clipped > burntOut
	if !b.known || b.of.burnt != burnt {
		in := m.inside(o.outer.Radius)
		b.add = shift{r: -in, oh: in}
		b.known = false
	}
	for range 2 { // the first time the circles are still the biased ones
		r, ox, oy := b.add.undo(o)
		s := biasCase{r: r, lean: max(leastLean, math.Hypot(ox, oy)), eps: m.obstruction(o, r, burnt), burnt: burnt}
		s.coma = o.comaShare(s.lean, s.eps)
		if b.known && (b.like(&s) || m.recall(&s)) {
			break
		}
		if b.known = m.learnBias(s, o.inner.Radius/o.outer.Radius); b.known {
			b.last = (b.last + 1) % len(b.before)
			b.before[b.last] = b.learnt
		}
	}
	r, ox, oy := b.add.undo(o)
	x, y := o.outer.X-b.add.ring*ox*r, o.outer.Y-b.add.ring*oy*r
	o.outer = Circle{X: x, Y: y, Radius: r}
	o.inner = Circle{X: x + ox*r, Y: y + oy*r, Radius: max(o.inner.Radius-b.add.oh*r, 0.1*o.inner.Radius)}
}

// obstruction returns the secondary's diameter over the aperture as the star shows it;
// for a burnt-out ring, whose brightness is unknown, as it is known from elsewhere.
func (m *Meter) obstruction(o *outline, r float64, burnt bool) float64 {
	if burnt && m.cfg.Telescope.Secondary > 0 {
		return m.eps
	}
	e := o.inner.Radius/r - m.bias.add.oh
	if burnt {
		e = max(m.eps, e)
	}
	return min(max(e, leastEps), mostEps)
}

// The smallest and the largest secondary with which a model is made, of the aperture: a
// little beyond 0.10 to 0.55, which are to be measured.
const (
	leastEps = 0.08
	mostEps  = 0.62
)

// comaShare returns the part of an offset, 0 to 1, that is coma, from how much brighter
// the ring is on the side to which the shadow is displaced: coma of k radii changes the
// light of zone rho by 8/3 k rho (the Jacobian of the rays' displacement). A small
// offset, or a ring of which part is burnt out, is taken for coma.
func (o *outline) comaShare(lean, eps float64) float64 {
	if lean < 2*leastLean || o.clipped > someBurnt {
		return 1
	}
	const zone = 0.74 // the mean radius at which the light is taken
	dx, dy := o.inner.X-o.outer.X, o.inner.Y-o.outer.Y
	toward := (o.brighter.X*dx + o.brighter.Y*dy) / math.Hypot(dx, dy)
	return min(max(toward*3/(8*zone)*(1-eps*eps)/lean, 0), 1)
}

// biasCase is what a bias depends on: the ring's radius r, px, its offset (lean), radii,
// the part of it that is coma, 0 to 1, the secondary eps of the aperture, and whether
// the ring is burnt out.
type biasCase struct {
	r, lean, coma, eps float64
	burnt              bool
}

// recall takes a bias that was found before, if one is good for s, as telescope and pixel
// are now.
func (m *Meter) recall(s *biasCase) bool {
	for i := range m.bias.before {
		l := &m.bias.before[i]
		if l.fresnel == m.fresnelPerPx() && l.bin == m.region.bin && l.of.burnt == s.burnt && l.like(s) {
			m.bias.learnt = *l
			return true
		}
	}
	return false
}

// like reports whether the bias is good for s.
func (b *learnt) like(s *biasCase) bool {
	return math.Abs(s.r/b.of.r-1) < 0.03 && math.Abs(s.lean/b.of.lean-1) < 0.3 &&
		math.Abs(s.eps-b.of.eps) < 0.02 && math.Abs(s.coma-b.of.coma) < 0.3
}

// learnBias outlines a model of the star s. Where the ring is burnt out, its
// brightness is unknown; but the higher it is, the wider the ring and the smaller
// the shadow look: the brightness is taken at which their ratio is the one that was
// seen.
func (m *Meter) learnBias(s biasCase, ratio float64) bool {
	if !(s.r > 3 && s.lean < farthest) {
		return false
	}
	b := &m.bias
	g := grid{n: 128, bands: 3}
	if s.burnt {
		g.n = 256 // only the wings are left, which are all fringes
	}
	var q params
	q[pR], q[pEps], q[pBlur] = s.r, s.eps, someBlur
	q[pOX] = s.lean
	q[pKX] = -s.coma * s.lean / (1 - s.eps*s.eps)
	// With more fringes than the grid can show, the bias is calculated for fewer, wider
	// fringes, and scaled down with their width.
	per := m.fresnelPerPx()
	narrower := math.Sqrt(min(1, mostFresnel(g.n, s.coma*s.lean)/(per*s.r)))
	b.expose(m.canvasOf(g), &q, per*sq(narrower), m.region.bin)
	b.of, b.fresnel, b.bin = s, per, m.region.bin
	if s.burnt {
		return m.learnLevel(&q, ratio)
	}
	b.picture.Pix = b.light
	add, _, ok := m.outlineModel(&q)
	b.add = add.times(narrower)
	b.add.of = min(max(b.add.of, -mostShift), mostShift)
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
	b.light, b.cut = slices.Grow(b.light[:0], side*side)[:side*side], slices.Grow(b.cut[:0], side*side)[:side*side]
	var t tap
	for i := range b.light {
		b.light[i] = 0
		if c.tapAt((float64(i%side)-b.mid)/b.unit, (float64(i/side)-b.mid)/b.unit, &t) {
			b.light[i] = float32(c.value(c.blurred, &t))
		}
	}
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
			best, b.add = math.Abs(seen-ratio), add
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

// mostShift is the most of an offset that is taken for the edge rule's work: more than
// half of it says that hardly a fringe lies between the edges, and nothing can be relied on.
const mostShift = 0.5

// outlineModel outlines the picture of q, whose offset is along x. It returns what the
// edge rule adds, and the shadow's radius over the ring's.
func (m *Meter) outlineModel(q *params) (add shift, ratio float64, ok bool) {
	b := &m.bias
	in := m.inside(q[pR])
	ring := Circle{X: b.mid, Y: b.mid, Radius: b.unit * (1 - in)}
	hole := Circle{X: b.mid + q[pOX]*b.unit, Y: b.mid, Radius: b.unit * (q[pEps] + in)}
	o, ok := m.trace.refine(&b.picture, &plane3{}, ring, hole, 3, math.Inf(1))
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
