package peephole

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// crowd is the distance, px, between the edges of spot and paper below which the blur of
// the one moves the other (judgement: a few times the blur).
const crowd = 4

// crowded reports whether the paper lies in front of the spot, with its edge near the
// spot's edge.
func (c cover) crowded(s spot) bool {
	gap := s.r - c.outer - r2.Norm(r2.Sub(s.at, c.at))
	return c.outer > 0 && gap > -1 && gap < crowd
}

// together places a spot with the paper in front of it. Plug, spot and paper are
// blurred alike, so the picture is the sum of their blurred edges, and is fitted to
// every pixel.
func (m centreSearch) together(s spot, paper cover) spot {
	t, ok := m.fitLayers(s, paper)
	if !ok || r2.Norm(r2.Sub(t.at, s.at)) > 1.5 {
		s.sigma = math.Hypot(s.sigma, 1)
		return s
	}
	return t
}

func (m centreSearch) fitLayers(s spot, paper cover) (spot, bool) {
	about, reach, soft := s.at, s.r+math.Max(2.5, 2*m.mm), 1.2
	s.rest = m.layers(s, paper, soft, about, reach)
	descend(0.8, 0.02, 5, func(k int, by float64) bool {
		t, p, b := s, paper, soft
		*[...]*float64{&t.at.X, &t.at.Y, &t.r, &p.outer, &b}[k] += by
		if t.r < p.outer || t.r > reach || b < 0.5 || b > 2.5 || p.outer < p.inner+1 {
			return false
		}
		t.rest = m.layers(t, p, b, about, reach)
		better := t.rest < s.rest
		if better {
			s, paper, soft = t, p, b
		}
		return better
	})
	if math.IsInf(s.rest, 1) {
		return s, false
	}
	rest := func(t spot) float64 { return m.layers(t, paper, soft, about, reach) }
	s.sigma = math.Hypot(m.placeSigma(s, reach, rest, slanting[:]), 0.2) // compared with drawn scenes
	return s, true
}

// layers returns the mean squared difference between the pixels about a spot and a
// picture of plug, spot and paper with the best brightnesses. soft is the blur of their
// edges, px; the pixels are those within reach of about.
func (m centreSearch) layers(s spot, paper cover, soft float64, about r2.Vec, reach float64) float64 {
	disc := func(r, edge float64) float64 { return 0.5 - 0.5*math.Tanh((r-edge)/soft) }
	var h robust.Equations
	var n, sbb float64
	for y := int(about.Y - reach); y <= int(about.Y+reach)+1; y++ {
		for x := int(about.X - reach); x <= int(about.X+reach)+1; x++ {
			r := math.Hypot(float64(x)-s.at.X, float64(y)-s.at.Y)
			if math.Hypot(float64(x)-about.X, float64(y)-about.Y) > reach || x < 0 || y < 0 || x >= m.Width || y >= m.Height {
				continue
			}
			q := math.Hypot(float64(x)-paper.at.X, float64(y)-paper.at.Y)
			b := float64(m.Pix[y*m.Width+x])
			h.Add(3, 1, b, [robust.MaxTerms]float64{1, disc(r, s.r), disc(q, paper.outer) - disc(q, paper.inner)})
			n, sbb = n+1, sbb+b*b
		}
	}
	level, ok := h.Solve(3)
	if n < 20 || !ok || level[1] >= 0 { // the spot is darker than the plug
		return math.Inf(1)
	}
	rest := sbb
	for i, v := range level {
		rest -= v * h[i][robust.MaxTerms]
	}
	return math.Max(rest/n, 0)
}
