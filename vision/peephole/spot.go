package peephole

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// spotRadii are the radii of the dark spot that are tried, mm, from a bare hole to a
// disc of black paper around it. Each is about a quarter larger than the one before, so
// that one of them is within an eighth of any spot (judgement).
var spotRadii = [...]float64{1.5, 2, 2.5, 3.2, 4, 5, 6.5, 8, 10}

// spot is a dark disc in front of a lighter plug.
type spot struct {
	at    r2.Vec
	r     float64
	sigma float64
	rest  float64 // mean squared difference of a pixel from the picture
}

// cover is the paper of the mark, which hides what is behind it.
type cover struct {
	at           r2.Vec
	outer, inner float64
	margin       float64 // how far its edge is blurred, px
}

func (c cover) hides(x, y float64) bool {
	if c.outer == 0 {
		return false
	}
	r := math.Hypot(x-c.at.X, y-c.at.Y)
	return r < c.outer+c.margin && r > c.inner-c.margin
}

// share is the part of a spot that the paper hides.
func (c cover) share(s spot) float64 {
	hidden, n := 0, 0
	for _, q := range [...]float64{0.3, 0.6, 0.9} {
		for i := range 12 {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / 12)
			if n++; c.hides(s.at.X+q*s.r*cos, s.at.Y+q*s.r*sin) {
				hidden++
			}
		}
	}
	return float64(hidden) / float64(n)
}

// spot looks for the dark reflection of the peephole within the mirror.
func (m centreSearch) spot(v *View) (best spot, ok bool) {
	least := math.Max(3*m.noise, 0.04*(m.hi-m.lo))
	paper := cover{v.Mark, v.MarkPX, v.hole, keep}
	top := 0.0
	for _, mm := range spotRadii {
		r := mm * m.mm
		if r < 1.2 {
			continue
		}
		for _, c := range m.darkest(r, least, paper) {
			s, good := m.refine(spot{at: c, r: r}, paper, least)
			if !good {
				continue
			}
			// Of two the one that is darker than its surroundings all round; of equal ones the larger.
			clear, share := m.isolated(s.at, s.r, least, paper)
			if score := share * (0.7 + 0.3*clear/(clear+2*least)) * math.Sqrt(math.Min(s.r/m.mm, 4)); clear > least && score > top {
				best, top, ok = s, score, true
			}
		}
	}
	if ok && paper.crowded(best) {
		best = m.together(best, paper)
	}
	return best, ok
}

// darkest returns the two best places for a dark disc of radius r.
func (m centreSearch) darkest(r, least float64, paper cover) (out []r2.Vec) {
	about, reach := m.silhouette.Centre, m.silhouette.Radius
	var score [2]float64
	var at [2]r2.Vec
	dim := m.lo + 0.35*(m.hi-m.lo)
	step := math.Max(0.4*r, 1)
	for dy := -reach; dy <= reach; dy += step {
		for dx := -reach; dx <= reach; dx += step {
			c := r2.Vec{X: about.X + dx, Y: about.Y + dy}
			if dx*dx+dy*dy > reach*reach {
				continue
			}
			if b, in := m.At(c.X, c.Y); !in || b > dim && !paper.hides(c.X, c.Y) || !m.plausible(c, r, least, paper) {
				continue
			}
			s, share := m.isolated(c, r, least, paper)
			s *= share
			switch {
			case s < least:
			case s > score[0]:
				if r2.Norm(r2.Sub(c, at[0])) > r {
					score[1], at[1] = score[0], at[0]
				}
				score[0], at[0] = s, c
			case s > score[1] && r2.Norm(r2.Sub(c, at[0])) > r:
				score[1], at[1] = s, c
			}
		}
	}
	for i, s := range score {
		if s > 0 {
			out = append(out, at[i])
		}
	}
	return out
}

// plausible is a quick test: of four points around the disc three are lighter than the
// four within it, or hidden.
func (m centreSearch) plausible(c r2.Vec, r, least float64, paper cover) bool {
	out, lighter := r+math.Max(1.7, 0.18*r+0.5), 0
	for _, d := range [...]r2.Vec{{X: 1}, {Y: 1}, {X: -1}, {Y: -1}} {
		in, far := r2.Add(c, r2.Scale(0.6*r, d)), r2.Add(c, r2.Scale(out, d))
		a, ok1 := m.At(in.X, in.Y)
		b, ok2 := m.At(far.X, far.Y)
		if !ok1 || !ok2 {
			return false
		}
		if paper.hides(in.X, in.Y) || paper.hides(far.X, far.Y) || b-a > 0.7*least {
			lighter++
		}
	}
	return lighter >= 3
}

// isolated returns by how much the disc at c is darker than its surroundings, as far as
// the paper does not hide them, without the quarter where that is least; and the share
// of its surroundings that is not hidden and lighter, reduced where they are uneven.
func (m centreSearch) isolated(c r2.Vec, r, least float64, paper cover) (darker, share float64) {
	const dirs, parts = 24, 8
	var inside float64
	n := 0
	for _, q := range [...]float64{0, 0.45, 0.45, 0.8} {
		for i := range 8 {
			sin, cos := math.Sincos(2*math.Pi*float64(i)/8 + q)
			x, y := c.X+q*r*cos, c.Y+q*r*sin
			if paper.hides(x, y) {
				continue
			}
			if b, ok := m.At(x, y); ok {
				inside, n = inside+b, n+1
			}
		}
	}
	if n < 5 {
		return 0, 0
	}
	inside /= float64(n)
	var step []float64
	out := r + math.Max(1.2, 0.18*r)
	for p := range parts {
		sum, k := 0.0, 0
		for i := range dirs / parts {
			sin, cos := math.Sincos(2 * math.Pi * float64(p*dirs/parts+i) / dirs)
			for _, q := range [...]float64{out, out + 1} {
				x, y := c.X+q*cos, c.Y+q*sin
				if paper.hides(x, y) {
					continue
				}
				if b, ok := m.At(x, y); ok {
					sum, k = sum+b, k+1
				}
			}
		}
		if k >= dirs/parts {
			d := sum/float64(k) - inside
			step = append(step, d)
			if d > least {
				share += 1.0 / parts
			}
		}
	}
	if len(step) < parts/2 {
		return 0, 0
	}
	low, high := robust.Quickselect(step, len(step)/4), robust.Quickselect(step, len(step)*3/4)
	if low <= 0 {
		return 0, 0
	}
	return low, share / (1 + 2*(high-low)/high) // the plug is as light all round
}

// refine places the spot to a fraction of a pixel: a large one by its outline, of which
// a part may be behind the paper or in front of something dark; a small one by the
// light that is missing.
func (m centreSearch) refine(s spot, paper cover, least float64) (spot, bool) {
	if s.r >= 3.5 {
		paper.margin = 2
		c, ok := m.settle(Circle{Centre: s.at, Radius: s.r}, -1, math.Max(0.45*s.r, 2.5), least, 0.3, paper.hides)
		// The less of its outline is seen, the more its size and place are confused.
		sigma := math.Hypot(c.Sigma, 0.05+1.5*math.Max(0.8-c.Seen, 0))
		t := spot{at: c.Centre, r: c.Radius, sigma: sigma}
		ok = ok && c.Radius > 1 && c.Radius < 13*m.mm && c.Sigma < 1.5*m.mm
		return t, ok
	}
	return m.weigh(s, paper, least)
}

// weigh fits a dark disc with soft edges to the pixels that are not hidden. ok is false
// where the fit is poor.
func (m centreSearch) weigh(s spot, paper cover, least float64) (spot, bool) {
	s.rest, _, _ = m.misfit(s, paper)
	descend(math.Max(0.3*s.r, 0.5), 0.01, 3, func(k int, by float64) bool {
		t := s
		*[...]*float64{&t.at.X, &t.at.Y, &t.r}[k] += by
		if t.r < 1 || t.r > 13*m.mm {
			return false
		}
		var depth float64
		t.rest, _, depth = m.misfit(t, paper)
		better := t.rest < s.rest && depth > 0
		if better {
			s = t
		}
		return better
	})
	_, ground, depth := m.misfit(s, paper)
	if depth < least || ground <= 0 {
		return s, false
	}
	rest := func(t spot) float64 { r, _, _ := m.misfit(t, paper); return r }
	s.sigma = math.Hypot(m.placeSigma(s, s.r+3*m.mm, rest, slanting[:3]), 0.05+3*paper.share(s))
	return s, s.sigma < 1.5*m.mm
}

// descend lowers what try knows by moving values one at a time, by a step either way and
// then by smaller and smaller ones. Try moves value k and reports whether that is better; if
// it is not, it leaves it where it was.
func descend(first, last float64, values int, try func(k int, by float64) bool) {
	for step := first; step > last; step *= 0.6 {
		for moved, rounds := true, 0; moved && rounds < 8; rounds++ {
			moved = false
			for k := range 2 * values {
				moved = try(k/2, step*float64(1-2*(k%2))) || moved
			}
		}
	}
}

// slanting are the directions in which the curvature of a fit is looked at.
var slanting = [...]r2.Vec{{X: 1}, {Y: 1}, {X: math.Sqrt2 / 2, Y: math.Sqrt2 / 2}, {X: math.Sqrt2 / 2, Y: -math.Sqrt2 / 2}}

// placeSigma returns the one-sigma of a fitted spot's place from the curvature of chi
// squared, where that is least. rest is the mean squared difference of the pixels within
// reach. Neighbouring pixels are blurred together: about four are worth one (judgement).
func (m centreSearch) placeSigma(s spot, reach float64, rest func(spot) float64, directions []r2.Vec) float64 {
	const h = 0.25
	worst := math.Inf(1)
	for _, d := range directions {
		a, b := s, s
		a.at, b.at = r2.Add(s.at, r2.Scale(h, d)), r2.Sub(s.at, r2.Scale(h, d))
		worst = math.Min(worst, (rest(a)+rest(b)-2*s.rest)/(h*h))
	}
	return math.Sqrt(math.Max(s.rest, m.noise*m.noise) * 4 * 2 / (math.Pi * reach * reach * math.Max(worst, 1e-9)))
}

// misfit returns the mean squared difference between the pixels about the spot that are
// not hidden and a disc that is darker than its ground by depth. Ground and depth are
// fitted.
func (m centreSearch) misfit(s spot, paper cover) (rest, ground, depth float64) {
	const soft = 1.2 // px, of the edge
	reach := s.r + 3*m.mm
	var n, sd, sdd, sb, sbb, sbd float64
	for y := int(s.at.Y - reach); y <= int(s.at.Y+reach)+1; y++ {
		for x := int(s.at.X - reach); x <= int(s.at.X+reach)+1; x++ {
			r := math.Hypot(float64(x)-s.at.X, float64(y)-s.at.Y)
			if r > reach || x < 0 || y < 0 || x >= m.Width || y >= m.Height || paper.hides(float64(x), float64(y)) {
				continue
			}
			d := 0.5 - 0.5*math.Tanh((r-s.r)/soft)
			b := float64(m.Pix[y*m.Width+x])
			n, sd, sdd, sb, sbb, sbd = n+1, sd+d, sdd+d*d, sb+b, sbb+b*b, sbd+b*d
		}
	}
	if n < 12 {
		return math.Inf(1), 0, 0
	}
	det := n*sdd - sd*sd
	if det < 1e-6*n*n {
		return math.Max(sbb/n-sb*sb/n/n, 0), sb / n, 0
	}
	depth = (sd*sb - n*sbd) / det
	ground = (sb + depth*sd) / n
	// Sum of (b - ground + depth d)^2 over n, expanded.
	rest = (sbb + n*ground*ground + depth*depth*sdd - 2*ground*sb + 2*depth*sbd - 2*ground*depth*sd) / n
	return math.Max(rest, 0), ground, depth
}
