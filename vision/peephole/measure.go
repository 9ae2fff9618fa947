package peephole

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// searchWidth is the width, px, at which outlines are looked for before they are
// traced at full size.
const searchWidth = 400

// Limits of what is measured (judgement).
const (
	leastLevel  = 0.03 // of clipping: darker is too dark to measure
	mostFlooded = 0.6  // share of burnt-out pixels
	leastRadius = 0.08 // of the frame's height, for the mirror
)

// Meter measures frames. It holds nothing between them.
type Meter struct{ c Config }

// NewMeter returns a meter for a telescope. An aperture that is not known is assumed to
// be 200 mm; it is only used for the size of the mark.
func NewMeter(c Config) *Meter {
	if !(c.Aperture > 0) {
		c.Aperture = 200
	}
	return &Meter{c}
}

// Measure looks at one frame.
func (m *Meter) Measure(f *frame.Frame) View {
	if f.Width < 64 || f.Height < 64 || len(f.Pix) < f.Width*f.Height {
		return View{Why: NoMirror}
	}
	p := newPicture(f)
	if why := p.light(); why != "" {
		return View{Why: why}
	}
	q, k := p.small(searchWidth)
	least := math.Max(5*q.noise, 0.05*(q.hi-q.lo))
	s := search{p: p, q: q, k: float64(k), edges: q.edgels(least), least: math.Max(4*p.noise/math.Sqrt(2.5), 0.05*(p.hi-p.lo))}
	v := View{Why: NoMirror}
	for _, c := range s.mirrors() {
		v.Why = NoSecondary
		if rim, ok := s.secondary(c); ok {
			v.Found, v.Why, v.Primary, v.Secondary = true, "", c, rim
			break
		}
	}
	if !v.Found {
		return v
	}
	off := r2.Norm(r2.Sub(v.Primary.Centre, v.Secondary.Centre))
	gap := v.Secondary.Radius - v.Primary.Radius
	v.Whole = gap > 0 && off < gap && v.Primary.Seen > 0.6
	v.Focuser, _ = s.focuser(v.Secondary)
	v.around(p)
	if p.white > 0 {
		c := v.Primary
		level, _ := p.mean(c.Centre.X, c.Centre.Y, 0.6*c.Radius, 0.9*c.Radius)
		v.Level = level / p.white
	}
	centreSearch{p, 2 * v.Primary.Radius / m.c.Aperture, s.silhouette(v.Primary)}.find(&v)
	return v
}

// light returns what is wrong with the light, or "".
func (p *picture) light() Why {
	if p.white > 0 {
		burnt := 0
		for _, v := range p.Pix {
			if float64(v) >= 0.985*p.white {
				burnt++
			}
		}
		if float64(burnt) > mostFlooded*float64(len(p.Pix)) {
			return TooBright
		}
	}
	dim := p.white > 0 && p.hi < leastLevel*p.white
	if dim || p.hi-p.lo < 8*p.noise && p.hi < 0.25*p.white || p.hi == 0 {
		return Dark
	}
	if p.hi-p.lo < 8*p.noise {
		return NoMirror
	}
	return ""
}

// search looks for outlines in one picture.
type search struct {
	p, q  *picture // at full size, and small
	k     float64  // how many times smaller
	edges []edgel  // of the small one
	least float64  // the step that an edge has at least
}

// circles returns the outlines of one sense (bright or dark inside), traced at full
// size. The edges of the clearest are removed before the next is looked for.
func (s *search) circles(sense, rMin, rMax, share float64) (out []Circle) {
	const rounds = 6
	edges := s.edges
	for range rounds {
		at, ok := poll(edges, s.q.Width, s.q.Height, sense, rMin, rMax).peak()
		if !ok {
			break
		}
		took := false
		for _, r := range radii(edges, at, sense, rMin, rMax) {
			if c, ok := s.p.settle(s.full(at, r), sense, 0.06*r*s.k+3*s.k, s.least, share, nil); ok {
				out, took = append(out, c), true
				edges = s.without(edges, c, sense)
			}
		}
		if !took { // these edges are no outline
			edges = slices.DeleteFunc(slices.Clone(edges), func(e edgel) bool { return e.looksAt(at, sense, 2) })
		}
	}
	return out
}

// without returns the edgels that are not of the outline.
func (s *search) without(edges []edgel, c Circle, sense float64) []edgel {
	half := (s.k - 1) / 2
	at, r := [2]float64{(c.Centre.X - half) / s.k, (c.Centre.Y - half) / s.k}, c.Radius/s.k
	return slices.DeleteFunc(slices.Clone(edges), func(e edgel) bool {
		return math.Abs(math.Hypot(e.x-at[0], e.y-at[1])-r) < 2.5 && e.looksAt(at, sense, 0.3*r)
	})
}

// full turns a place in the small picture into one in the full.
func (s *search) full(at [2]float64, r float64) Circle {
	half := (s.k - 1) / 2
	return Circle{Centre: r2.Vec{X: at[0]*s.k + half, Y: at[1]*s.k + half}, Radius: r * s.k}
}

// mirrors returns what may be the outline of the main mirror, likeliest first: of the
// discs that are brighter than their surroundings, those that are brightest within
// their rim. The mirror shows the sky or wall, and nothing else in view is as bright.
// Where the secondary cuts it off, an arc of the secondary is an edge of it too.
func (s *search) mirrors() []Circle {
	h := float64(s.q.Height)
	score := map[float64]float64{}
	list := slices.DeleteFunc(s.circles(1, leastRadius*h, 0.6*h, 0.3), func(c Circle) bool {
		level, n := s.p.mean(c.Centre.X, c.Centre.Y, 0.7*c.Radius, 0.93*c.Radius)
		score[c.Radius] = (level - s.p.lo) * (0.5 + math.Min(c.Seen, 0.8))
		return n < 100 || score[c.Radius] <= 0
	})
	slices.SortFunc(list, func(a, b Circle) int { return cmp.Compare(score[b.Radius], score[a.Radius]) })
	return list[:min(len(list), 3)]
}

// secondary returns the outline of the secondary around the mirror's. Where the whole
// mirror is seen, it is the rim of the dark gap around it; where the mirror is cut off,
// it is the rim of the mirror's light.
func (s *search) secondary(in Circle) (best Circle, ok bool) {
	top := 0.0
	r := in.Radius / s.k
	for _, sense := range [...]float64{-1, 0} {
		list := s.circles(sense, 0.8*r, math.Min(2.4*r, 0.7*float64(s.q.Height)), 0.2)
		for _, c := range list {
			good := true
			if sense == 0 {
				c, good = s.p.settle(c, 0, 3*s.k, s.least, 0.3, nil)
			}
			off := r2.Norm(r2.Sub(c.Centre, in.Centre))
			if !good || off > c.Radius || off < 0.02*in.Radius && math.Abs(c.Radius-in.Radius) < 0.02*in.Radius {
				continue
			}
			if c.Radius < 1.02*in.Radius && c.Radius+off < 1.02*in.Radius {
				continue // within the mirror: the secondary's reflection
			}
			if c.Seen > top {
				best, top, ok = c, c.Seen, true
			}
		}
		if ok {
			return s.p.oval(best, sense, 0.05*best.Radius, s.least), true
		}
	}
	return best, ok
}

// silhouette returns the dark disc that the secondary makes in the mirror; where it
// is not found, the part of the mirror in which it must lie.
func (s *search) silhouette(in Circle) Circle {
	best := Circle{Centre: in.Centre, Radius: 0.45 * in.Radius}
	r := in.Radius / s.k
	for _, c := range s.circles(-1, 0.12*r, 0.6*r, 0.4) {
		if r2.Norm(r2.Sub(c.Centre, in.Centre)) < 0.6*in.Radius && c.Seen > best.Seen {
			best = c
		}
	}
	return best
}

// focuser returns the inner edge of the focuser's tube, if it can be seen.
func (s *search) focuser(in Circle) (best Circle, ok bool) {
	r := in.Radius / s.k
	for _, c := range s.circles(1, 1.1*r, 4*r, 0.25) {
		if off := r2.Norm(r2.Sub(c.Centre, in.Centre)); c.Radius > in.Radius+off && (!ok || c.Seen > best.Seen) {
			best, ok = c, true
		}
	}
	return best, ok
}

// around samples the light about the secondary.
func (v *View) around(p *picture) {
	c := v.Secondary
	for i := range v.Around {
		sum, n := 0.0, 0
		for k := range 30 {
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + float64(k%3)/3) / directions)
			r := c.Radius * (1.08 + 0.03*float64(k/3))
			if b, in := p.At(c.Centre.X+r*cos, c.Centre.Y+r*sin); in {
				sum, n = sum+b, n+1
			}
		}
		v.Around[i] = -1
		if n > 10 {
			v.Around[i] = sum / float64(n)
		}
	}
}
