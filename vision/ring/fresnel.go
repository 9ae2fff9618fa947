package ring

import "math"

// shape is a defocused star in units of the ring's geometric radius: what its
// picture looks like apart from place, size, brightness and blur.
//
// In these units the amplitude in the image is the pupil's, convolved with
// exp(i pi N |x|^2): completing the square in the defocused diffraction integral
// (Born & Wolf 8.8, from memory) with N = |z| / 4 F^2 lambda, the Fresnel number
// of the whole aperture. A wavefront W (waves) on the pupil moves the ray of a
// zone p to p + grad W / N. Inside and outside focus look alike but for the
// pupil, which is upside down; here it is always as the picture shows it.
type shape struct {
	n float64 // Fresnel number at 550 nm

	kx, ky float64 // how far coma moves the ring's outline
	sx, sy float64 // the silhouette's centre in the pupil
	eps    float64 // obstruction
	ha, hb float64 // how oval the silhouette is: its edge is at eps (1 + ha cos 2 phi + hb sin 2 phi)
	a0, a1 float64 // astigmatism: outline moved by (a0 x + a1 y, a1 x - a0 y)
	sph    float64 // spherical aberration: zone rho moved by sph (rho^3 - rho)

	vanes    int
	vane     [maxVanes]vane
	sin, cos [maxVanes]float64 // of the vanes' directions
}

// vane is one spider vane: a bar from the silhouette outward.
type vane struct {
	angle float64 // direction in the picture, radians from x towards y
	width float64 // full width, ring radii
}

// The camera sees a star in white light: bands nodes from 450 to 650 nm, evenly
// spaced in frequency (so that one complex product takes a phase from node to
// node) and weighted as evenly in wavelength.
const (
	blueEnd = 550. / 450
	redEnd  = 550. / 650
)

// span is the side of the computed square, in ring radii. Light that leaves it
// comes back on the far side; at 2.6 that is below 1e-3 of the ring's brightness.
const span = 2.6

// grid is what a picture is made on.
type grid struct {
	n, bands int
	smooth   bool // edges as edge draws them, a cubic spline between the points
}

// plane renders shapes on an n x n grid. Grid point (i, j) stands at
// ((i - n/2) step, (j - n/2) step). One goroutine.
type plane struct {
	grid
	step   float64
	conv   *convolver
	field  []complex64 // transposed: [i*n+j]
	phase  []complex64 // of the pupil at the node now, transposed
	turn   []complex64 // from node to node
	kernel []complex64
	lo, hi int // grid lines that the pupil reaches: lo <= i < hi
}

func newPlane(g grid) *plane {
	n := g.n
	return &plane{
		grid: g, step: span / float64(n), conv: newConvolver(n),
		field: make([]complex64, n*n), phase: make([]complex64, n*n), turn: make([]complex64, n*n),
		kernel: make([]complex64, n),
	}
}

// widen sets the side of the computed square for a Fresnel number of n. Light that comes
// back from d radii away disturbs the derivative by the coma where n d^2 is small: at n = 15
// and a side of 2.6 that derivative was off by a half, compared with a square twice as wide.
func (p *plane) widen(n float64) { p.step = max(span, 2+math.Sqrt(20/n)) / float64(p.n) }

// mostFresnel returns the largest Fresnel number that a grid of n x n can show of a
// star with coma of k radii: a fringe at the edge, 1/sqrt(N) radii wide, has four
// points, and the phase of the coma, whose slope is N k cycles per radius, stays
// within 0.8 of the highest frequency of the grid.
func mostFresnel(n int, k float64) float64 {
	step := span / float64(n)
	return min(1/sq(4*step), 0.8/(2*step*max(k, 1e-9)))
}

// render fills out, n*n, with the intensity of s: 1 in a wide open pupil.
func (p *plane) render(s *shape, out []float32) {
	gap := (blueEnd - redEnd) / float64(p.bands)
	first := redEnd + gap/2
	p.pupil(s, 2*math.Pi*s.n*first, 2*math.Pi*s.n*gap)
	clear(out)
	sum := 0.0
	for b := range p.bands {
		c := first + float64(b)*gap
		sum += 1 / (c * c)
	}
	for b := range p.bands {
		c := first + float64(b)*gap
		p.propagate(s.n * c)
		w := float32(1 / (c * c * sum))
		for i, u := range p.field {
			out[i] += w * (real(u)*real(u) + imag(u)*imag(u))
		}
		if b+1 < p.bands {
			p.next()
		}
	}
}

// pupil sets phase to the pupil, its transmission (the fraction of each cell that
// is open) times exp(i k w) with the wavefront w, and turn to exp(i turn w).
func (p *plane) pupil(s *shape, k, turn float64) {
	clear(p.phase)
	half := p.n / 2
	reach := int(1/p.step+p.soft()) + 1
	p.lo, p.hi = half-reach, half+reach+1
	for i := p.lo; i < p.hi; i++ {
		x := float64(i-half) * p.step
		for j := p.lo; j < p.hi; j++ {
			y := float64(j-half) * p.step
			r := math.Hypot(x, y)
			if r > 1+p.soft()*p.step {
				continue
			}
			t := p.covered(1-r, x, y, r)
			dx, dy := x-s.sx, y-s.sy
			d := math.Hypot(dx, dy)
			t *= p.covered(d-s.edge(dx, dy, d), dx, dy, d)
			for v := range s.vanes {
				if dx*s.cos[v]+dy*s.sin[v] > 0 {
					t *= 1 - p.bar(dy*s.cos[v]-dx*s.sin[v], s.vane[v].width)
				}
			}
			if t == 0 {
				continue
			}
			r2 := r * r
			w := (s.kx*x+s.ky*y)*(r2-3)/3 + s.a0*(x*x-y*y)/2 + s.a1*x*y + s.sph*(r2*r2/4-r2/2)
			sin, cos := math.Sincos(k * w)
			p.phase[i*p.n+j] = complex(float32(t*cos), float32(t*sin))
			sin, cos = math.Sincos(turn * w)
			p.turn[i*p.n+j] = complex(float32(cos), float32(sin))
		}
	}
}

// edge returns how far the silhouette reaches from its centre in the direction of
// (dx, dy), which is d long.
func (s *shape) edge(dx, dy, d float64) float64 {
	if d == 0 {
		return s.eps
	}
	c, n := dx/d, dy/d
	return s.eps * (1 + s.ha*(c*c-n*n) + s.hb*2*c*n)
}

// softness is the width of a smooth edge, cells: with less of it the grid shows false fringes,
// with more it loses true ones (trials in docs/measurement.md).
const softness = 0.8

// soft returns how far from an edge a point of the grid may be touched by it, cells.
func (p *plane) soft() float64 {
	if p.smooth {
		return edgeReach * softness
	}
	return 1
}

// edgeReach is where a smooth edge has come to 0 or 1 within 1e-4.
const edgeReach = 5

// edge is a step from 0 to 1 without what a grid cannot show, x in widths: the step
// smoothed by a Gaussian, of which the first terms are taken back that it takes from low
// frequencies (its transform is exp(-u) (1 + u + u^2/2), with u = (2 pi f)^2 / 2).
func edge(x float64) float64 {
	switch {
	case x >= edgeReach:
		return 1
	case x <= -edgeReach:
		return 0
	}
	return 0.5*math.Erfc(-x/math.Sqrt2) + x*(7-x*x)/8*math.Exp(-x*x/2)/math.Sqrt(2*math.Pi)
}

// covered returns the fraction of a cell on the inner side of a straight edge at signed
// distance d (> 0 inside) whose normal is (x, y)/r.
func (p *plane) covered(d, x, y, r float64) float64 {
	step := p.step
	if p.smooth {
		return edge(d / (softness * step))
	}
	if d >= step {
		return 1
	}
	if d <= -step {
		return 0
	}
	if r == 0 {
		return 0.5
	}
	a, b := math.Abs(x)/r, math.Abs(y)/r
	if a < b {
		a, b = b, a
	}
	// The cell's section across the normal is a trapezium of half widths
	// (a+b)/2 at the foot and (a-b)/2 at the top.
	q := math.Abs(d) / step
	foot, top := (a+b)/2, (a-b)/2
	var f float64
	switch {
	case q >= foot:
		f = 0
	case q <= top:
		f = 0.5 - q/a
	default:
		f = (foot - q) * (foot - q) / (2 * a * b)
	}
	if d > 0 {
		return 1 - f
	}
	return f
}

// bar returns the part of a cell covered by a bar of the given width whose axis
// passes at distance across.
func (p *plane) bar(across, width float64) float64 {
	step := p.step
	if p.smooth {
		return edge((across+width/2)/(softness*step)) - edge((across-width/2)/(softness*step))
	}
	lo, hi := max(across-step/2, -width/2), min(across+step/2, width/2)
	return max(0, hi-lo) / step
}

// next takes the pupil's phase to the next node.
func (p *plane) next() {
	for i := p.lo; i < p.hi; i++ {
		a := p.phase[i*p.n+p.lo : i*p.n+p.hi]
		t := p.turn[i*p.n+p.lo:][:len(a)]
		for j := range a {
			a[j] *= t[j]
		}
	}
}

// propagate sets field to the pupil convolved with the Fresnel kernel of number n,
// whose spectrum exp(-i pi f^2 / n), f in cycles per radius, is a product of one
// in x and one in y.
func (p *plane) propagate(n float64) {
	for i := range p.kernel {
		f := p.freq(i)
		sin, cos := math.Sincos(-math.Pi * f * f / n)
		p.kernel[i] = complex(float32(cos)/float32(p.n), float32(sin)/float32(p.n))
	}
	copy(p.field, p.phase)
	p.conv.run(p.field, p.n, p.lo, p.hi, p.kernel)
	transpose(p.field, p.n)
	p.conv.run(p.field, p.n, 0, p.n, p.kernel)
}

// freq returns the frequency of the i-th term of a transform, cycles per radius.
func (p *plane) freq(i int) float64 {
	if i >= p.n/2 {
		i -= p.n
	}
	return float64(i) / (float64(p.n) * p.step)
}
