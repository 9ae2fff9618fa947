package ring

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

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
	a0, a1 float64 // astigmatism: outline moved by (a0 x + a1 y, a1 x - a0 y)
	sph    float64 // spherical aberration: zone rho moved by sph (rho^3 - rho)

	vanes []vane
}

// vane is one spider vane: a bar from the silhouette outward.
type vane struct {
	angle float64 // direction in the picture, radians from x towards y
	width float64 // full width, ring radii
}

// spectrum is what a camera sees of a star, as nodes of equal weight over
// 450 to 650 nm: 550 nm over the wavelength.
var spectrum = []float64{550. / 470, 550. / 510, 550. / 550, 550. / 590, 550. / 630}

// span is the side of the computed square, in ring radii. Light that leaves it
// comes back on the far side; at 3 that is below 1e-3 of the ring's brightness.
const span = 3.0

// plane renders shapes on an n x n grid. Grid point (i, j) stands at
// ((i - n/2) span/n, (j - n/2) span/n). One goroutine.
type plane struct {
	n     int
	step  float64
	fft   *fourier.CmplxFFT
	field []complex128
	line  []complex128
	amp   []float64
	rows  []bool
}

func newPlane(n int) *plane {
	return &plane{
		n: n, step: span / float64(n), fft: fourier.NewCmplxFFT(n),
		field: make([]complex128, n*n), line: make([]complex128, n),
		amp: make([]float64, n*n), rows: make([]bool, n),
	}
}

// render fills out, n*n, with the intensity of s: 1 in a wide open pupil.
func (p *plane) render(s *shape, out []float64) {
	p.pupil(s)
	clear(out)
	for _, c := range spectrum {
		p.light(s, c, out)
	}
	w := 1 / float64(len(spectrum))
	for i := range out {
		out[i] *= w
	}
}

// pupil fills amp with the transmission, the fraction of each cell that is open.
func (p *plane) pupil(s *shape) {
	clear(p.amp)
	half := p.n / 2
	for j := range p.n {
		y := float64(j-half) * p.step
		p.rows[j] = math.Abs(y) < 1+p.step
		if !p.rows[j] {
			continue
		}
		for i := range p.n {
			x := float64(i-half) * p.step
			r := math.Hypot(x, y)
			if r > 1+p.step {
				continue
			}
			t := covered(1-r, x, y, r, p.step)
			dx, dy := x-s.sx, y-s.sy
			d := math.Hypot(dx, dy)
			t *= covered(d-s.eps, dx, dy, d, p.step)
			for k := range s.vanes {
				v := &s.vanes[k]
				sin, cos := math.Sincos(v.angle)
				if along := dx*cos + dy*sin; along > 0 {
					across := dy*cos - dx*sin
					t *= 1 - bar(across, v.width, p.step)
				}
			}
			p.amp[j*p.n+i] = t
		}
	}
}

// covered returns the fraction of a cell of the given step on the inner side of
// a straight edge at signed distance d (> 0 inside) whose normal is (x, y)/r.
func covered(d, x, y, r, step float64) float64 {
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
func bar(across, width, step float64) float64 {
	lo, hi := max(across-step/2, -width/2), min(across+step/2, width/2)
	return max(0, hi-lo) / step
}

// light adds the intensity at 550 nm / c to out.
func (p *plane) light(s *shape, c float64, out []float64) {
	half := p.n / 2
	k := 2 * math.Pi * s.n * c
	for j := range p.n {
		row := p.field[j*p.n : (j+1)*p.n]
		if !p.rows[j] {
			clear(row)
			continue
		}
		y := float64(j-half) * p.step
		for i := range row {
			t := p.amp[j*p.n+i]
			if t == 0 {
				row[i] = 0
				continue
			}
			x := float64(i-half) * p.step
			r2 := x*x + y*y
			w := (s.kx*x+s.ky*y)*(r2-3)/3 + s.a0*(x*x-y*y)/2 + s.a1*x*y + s.sph*(r2*r2/4-r2/2)
			sin, cos := math.Sincos(k * w)
			row[i] = complex(t*cos, t*sin)
		}
	}
	p.propagate(s.n * c)
	for i, u := range p.field {
		out[i] += real(u)*real(u) + imag(u)*imag(u)
	}
}

// propagate convolves field with the Fresnel kernel of number n.
func (p *plane) propagate(n float64) {
	for j := range p.n {
		if p.rows[j] {
			row := p.field[j*p.n : (j+1)*p.n]
			p.fft.Coefficients(row, row)
		}
	}
	// exp(-i pi f^2 / n), f in cycles per radius, is a product of x and y parts.
	phase := make([]complex128, p.n)
	for i := range phase {
		f := float64(i)
		if i >= p.n/2 {
			f -= float64(p.n)
		}
		f /= span
		sin, cos := math.Sincos(-math.Pi * f * f / n)
		phase[i] = complex(cos, sin)
	}
	scale := complex(1/float64(p.n*p.n), 0)
	for i := range p.n {
		for j := range p.n {
			p.line[j] = p.field[j*p.n+i]
		}
		p.fft.Coefficients(p.line, p.line)
		for j := range p.n {
			p.line[j] *= phase[j] * phase[i] * scale
		}
		p.fft.Sequence(p.line, p.line)
		for j := range p.n {
			p.field[j*p.n+i] = p.line[j]
		}
	}
	for j := range p.n {
		row := p.field[j*p.n : (j+1)*p.n]
		p.fft.Sequence(row, row)
	}
}
