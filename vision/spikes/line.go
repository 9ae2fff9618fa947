package spikes

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"halocue/vision/frame"
)

// strip is the light about one line through the star: cuts across it, one px
// apart along it, on both sides of the star.
type strip struct {
	cuts []cut
}

// cut is one of them: px across the line from -half to half, ADU.
type cut struct {
	along float64 // px from the star, < 0 on the far side
	half  int
	v     []float64
	trust float64 // 1 / variance of a sample
}

const (
	// Judgement; tested on drawn spikes (go test ./vision/spikes -v).
	splitReach = 0.1  // radians: how far apart the two lines of a spike may be, from its middle
	minHalf    = 6    // px across
	misfit     = 0.07 // how wrong the model of a cut is, of its peak
	sure       = 15   // fall of chi square from which a spike is double
	doubtful   = 5    // rise of chi square that limits a split that was not seen
	leastSplit = 0.35 * math.Pi / 180
	fringes    = 0.002 // radians: what a spike's own fringes do to an angle
)

// fit fits one line and two to the spike near an angle.
func (p *polar) fit(f *frame.Frame, angle float64) (k Spike, ok bool) {
	s := p.cut(f, angle)
	s.trim()
	if len(s.cuts) < 10 {
		return k, false
	}
	one, costOne := s.best(0)
	for range 2 { // errors of the model count as noise
		s.distrust(one)
		one, costOne = s.best(0)
	}
	two, costTwo := one, costOne
	for _, start := range [3]float64{0.02, 0.06, 0.12} {
		if m, c := s.best(start); c < costTwo {
			two, costTwo = m, c
		}
	}
	free := 0.0
	for _, c := range s.cuts {
		free += float64(len(c.v)) - 2
	}
	// Samples share pixels, and speckles are larger still: four are worth one (judgement).
	per := max(costTwo/free, 1) * 4
	m := one
	if (costOne-costTwo)/per > sure && two.split > leastSplit {
		m, k.Double, k.Split = two, true, two.split
	} else {
		k.Limit = s.limit(one, costOne, per)
	}
	k.Angle = math.Mod(angle+m.turn+math.Pi, math.Pi)
	k.Sigma, k.SplitSigma = s.sigmas(m, per)
	for i := range s.cuts {
		a, _ := s.cuts[i].solve(m)
		k.Light += max(a, 0) * m.width / float64(len(s.cuts))
	}
	return k, k.Light > 0 && !math.IsInf(k.Sigma, 1)
}

// cut samples the strip about a line.
func (p *polar) cut(f *frame.Frame, angle float64) strip {
	sin, cos := math.Sincos(angle)
	var s strip
	for i := range p.rings {
		c := &p.rings[i]
		half := max(minHalf, int(splitReach*c.r)+int(p.core)+3)
		if float64(half) > 0.6*c.r {
			continue
		}
		for _, side := range [2]float64{-1, 1} {
			along := side * c.r
			q := cut{along: along, half: half, trust: 1 / (c.noise * c.noise)}
			for y := -half; y <= half; y++ {
				v, on := f.At(p.at.X+along*cos-float64(y)*sin, p.at.Y+along*sin+float64(y)*cos)
				if !on {
					break
				}
				q.v = append(q.v, v)
			}
			if len(q.v) == 2*half+1 {
				s.cuts = append(s.cuts, q)
			}
		}
	}
	return s
}

// trim leaves out the cuts beyond the spike's end: many cuts with nothing but noise would
// allow any split.
func (s *strip) trim() {
	const block = 8 // px
	var sum, norm []float64
	for i := range s.cuts {
		c := &s.cuts[i]
		k := int(math.Abs(c.along)) / block
		for k >= len(sum) {
			sum, norm = append(sum, 0), append(norm, 0)
		}
		// Broad enough for both lines of a split spike.
		a, _ := c.solve(model{width: 1.5 + 0.3*splitReach*math.Abs(c.along)})
		sum[k] += a * math.Sqrt(c.trust)
		norm[k]++
	}
	end, dark := 0, 0
	for k := range sum {
		switch {
		case norm[k] == 0:
		case sum[k]/math.Sqrt(norm[k]) > 3:
			end, dark = k+1, 0
		default:
			dark++
		}
		if dark > 1 {
			break
		}
	}
	s.cuts = slices.DeleteFunc(s.cuts, func(c cut) bool { return math.Abs(c.along) >= float64(end*block) })
}

// model is a spike of two lines, or one where split is 0.
type model struct {
	turn   float64 // from the strip's own direction, radians
	split  float64 // between the lines, radians
	width  float64 // standard deviation across a line, px
	offset float64 // of where they meet from the star, across, px
}

// shape returns the model's brightness px across the strip, on a cut.
func (m model) shape(along, y float64) float64 {
	one := func(turn float64) float64 {
		d := (y - m.offset - turn*along) / m.width
		return math.Exp(-d * d / 2)
	}
	if m.split == 0 {
		return one(m.turn)
	}
	return (one(m.turn-m.split/2) + one(m.turn+m.split/2)) / 2
}

// solve returns the brightness that fits a cut best, over its background, and chi square.
func (c *cut) solve(m model) (a, chi float64) {
	var s, ss, v, sv, vv float64
	for i, x := range c.v {
		g := m.shape(c.along, float64(i-c.half))
		s, ss, v, sv, vv = s+g, ss+g*g, v+x, sv+g*x, vv+x*x
	}
	n := float64(len(c.v))
	det := n*ss - s*s
	if det > 1e-9 {
		a = max((n*sv-s*v)/det, 0)
	}
	ground := (v - a*s) / n
	chi = vv - 2*a*sv - 2*ground*v + a*a*ss + 2*a*ground*s + n*ground*ground
	return a, max(chi, 0) * c.trust
}

// cost returns chi square of a model, with weak limits that keep its values possible.
func (s *strip) cost(m model) float64 {
	if !(m.width > 0.4 && m.width < 12 && math.Abs(m.turn) < 0.1 && m.split >= 0 && m.split < 2*splitReach) {
		return math.Inf(1)
	}
	sum := 0.0
	for i := range s.cuts {
		_, chi := s.cuts[i].solve(m)
		sum += chi
	}
	return sum + m.offset*m.offset/4
}

// distrust adds the error of the model to the noise of each cut.
func (s *strip) distrust(m model) {
	for i := range s.cuts {
		c := &s.cuts[i]
		a, chi := c.solve(m)
		seen := chi / c.trust / float64(len(c.v)-2)
		wrong := misfit * a
		c.trust = 1 / max(seen, wrong*wrong, 1/c.trust/4)
	}
}

// The parameters of a fit, each in a unit in which its steps are alike: turn,
// width, offset, and split where the spike is double.
const (
	turnUnit  = 0.01 // radians
	splitUnit = 0.02
)

func (m model) vector() []float64 {
	x := []float64{m.turn / turnUnit, m.width, m.offset, m.split / splitUnit}
	if m.split == 0 {
		return x[:3]
	}
	return x
}

func modelOf(x []float64) model {
	m := model{turn: x[0] * turnUnit, width: x[1], offset: x[2]}
	if len(x) > 3 {
		m.split = math.Abs(x[3] * splitUnit)
	}
	return m
}

// best fits a model from a split to start with, 0 for none, by the simplex of
// Nelder and Mead.
func (s *strip) best(split float64) (model, float64) {
	start := model{width: 1.5, split: split}
	r, err := optimize.Minimize(
		optimize.Problem{Func: func(x []float64) float64 { return s.cost(modelOf(x)) }}, start.vector(),
		&optimize.Settings{FuncEvaluations: 250, Converger: &optimize.FunctionConverge{Absolute: 0.01, Iterations: 20}},
		&optimize.NelderMead{SimplexSize: 0.5},
	)
	if r == nil || err != nil && math.IsInf(r.F, 1) {
		return start, math.Inf(1)
	}
	return modelOf(r.X), r.F
}

// sigmas returns the one-sigmas of turn and split from the curvature of chi square in all
// parameters together, since a narrower line and a wider split look alike. They are
// infinite where there is no curvature.
func (s *strip) sigmas(m model, per float64) (turn, split float64) {
	x := m.vector()
	var h mat.SymDense
	fd.Hessian(&h, func(x []float64) float64 { return s.cost(modelOf(x)) }, x, &fd.Settings{Formula: fd.Formula{
		Stencil: fd.Forward.Stencil, Derivative: fd.Forward.Derivative, Step: 0.02,
	}})
	var c mat.Cholesky
	var inv mat.SymDense
	if !c.Factorize(&h) || c.InverseTo(&inv) != nil {
		return math.Inf(1), math.Inf(1)
	}
	one := func(i int, unit float64) float64 {
		return math.Hypot(unit*math.Sqrt(2*per*inv.At(i, i)), fringes)
	}
	if turn = one(0, turnUnit); len(x) > 3 {
		split = one(3, splitUnit)
	}
	return turn, split
}

// limit returns the largest split that would not have been seen in a spike that is one
// line: the split at which chi square has risen by doubtful, with the best width.
func (s *strip) limit(one model, cost, per float64) float64 {
	for split := 0.1 * math.Pi / 180; split < 2*splitReach; split *= 1.15 {
		least := math.Inf(1)
		for narrow := 1.0; narrow > 0.4; narrow -= 0.15 {
			m := one
			m.split, m.width = split, max(one.width*narrow, 0.41)
			least = min(least, s.cost(m))
		}
		if (least-cost)/per > doubtful {
			return split
		}
	}
	return 2 * splitReach
}
