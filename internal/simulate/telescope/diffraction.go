package telescope

import (
	"math"
	"math/cmplx"
)

// stamp is the light of a star on a square grid about its chief ray: share of
// the star's light per mm^2, at positions step*(i - n/2) mm from it. With flip
// the axes run backwards.
type stamp struct {
	n    int
	step float64
	flip bool
	v    []float64
}

// diffract calculates the star's image by scalar diffraction of the pupil, as the mean
// over the wavelengths of band. ratio is the focal ratio. n, a multiple of 16, is the size
// of the grid; 256 is enough for a ring of 100 px.
//
// Far from focus, in units of the ring's radius, the image is the pupil's field
// seen through a Fresnel number N = 2 |W020|: u = P exp(i phase) convolved with
// exp(-i pi sign(z) N x^2), two transforms of a slowly varying field. Near focus
// (N < n/13) it is the far field of the pupil with its defocus. Goodman,
// Introduction to Fourier Optics, ch. 4 and 6 (from memory).
func (d *diffraction) diffract(p *pupil, ratio float64, band []float64) stamp {
	clear(d.sum)
	out := stamp{n: d.g.n, v: d.sum}
	fresnel := 2 * math.Abs(p.defocus)
	if fresnel >= float64(d.g.n)/13 {
		radius := fresnel * 2 * ratio * 550e-6 // |z| / 2F with |z| = 8 F^2 |W020|
		extent := d.extent(p, fresnel)
		for _, k := range band {
			d.near(p, extent, fresnel*k, k, 1/float64(len(band)))
		}
		out.step, out.flip = extent/float64(out.n)*radius, p.defocus > 0
	} else {
		// The shortest wave's pupil spans half the grid; all waves share the step.
		out.step = 0.22e-3 * ratio
		for _, k := range band {
			d.far(p, 2*ratio*550e-6/k/(float64(out.n)*out.step), k, 1/float64(len(band)))
		}
	}
	out.normalise()
	return out
}

// diffraction is the workspace of diffract.
type diffraction struct {
	g   *grid
	sum []float64
}

func newDiffraction(n int) *diffraction {
	return &diffraction{g: newGrid(n), sum: make([]float64, n*n)}
}

// extent returns the side of the grid, in ring radii: room for the ring, what
// coma throws out of it and a margin of Fresnel zones; and never so small that
// the kernel is undersampled (n < N L^2).
func (d *diffraction) extent(p *pupil, fresnel float64) float64 {
	coma := 3 * math.Hypot(p.coma.X, p.coma.Y) / fresnel // 3 C / R
	l := 2 * (1 + coma + 2.5/math.Sqrt(fresnel))
	return math.Max(math.Max(l, 2.4), math.Sqrt(1.05*float64(d.g.n)/fresnel))
}

// near adds the Fresnel pattern of one wavelength. k is 550 nm over it.
func (d *diffraction) near(p *pupil, extent, fresnel, k, weight float64) {
	g, n := d.g, d.g.n
	d.fill(p, extent/float64(n), k, 0)
	g.forward()
	turn := math.Pi / fresnel / (extent * extent)
	if p.defocus < 0 {
		turn = -turn
	}
	// exp(i turn (kx^2 + ky^2)) is a product of two.
	chirp := make([]complex128, n)
	for i := range chirp {
		f := g.frequency(i)
		chirp[i] = cmplx.Rect(1, turn*f*f)
	}
	for y := range n {
		row := g.v[y*n : (y+1)*n]
		for x := range row {
			row[x] *= chirp[x] * chirp[y]
		}
	}
	g.backward()
	d.add(weight/(float64(n)*float64(n)), false)
}

// far adds the far field of one wavelength, the pupil sampled at dq.
func (d *diffraction) far(p *pupil, dq, k, weight float64) {
	d.fill(p, dq, k, -p.defocus)
	d.g.forward()
	d.add(weight*dq*dq, true)
}

// fill puts the pupil's field on the grid, with defocus waves of defocus.
func (d *diffraction) fill(p *pupil, dq, k, defocus float64) {
	g, n := d.g, d.g.n
	g.clear()
	reach := min(int(1/dq)+2, n/2)
	for j := n/2 - reach; j < n/2+reach; j++ {
		y := float64(j-n/2) * dq
		for i := n/2 - reach; i < n/2+reach; i++ {
			x := float64(i-n/2) * dq
			if a := p.through(x, y, dq); a > 0 {
				w := p.aberration(x, y) + defocus*(x*x+y*y)
				s, c := math.Sincos(2 * math.Pi * k * w)
				g.v[j*n+i] = complex(a*c, a*s)
			}
		}
	}
}

// add sums the intensity up. The far field has its centre in the corner.
func (d *diffraction) add(weight float64, corner bool) {
	n := d.g.n
	for j := range n {
		for i := range n {
			v := d.g.v[j*n+i]
			at := j*n + i
			if corner {
				at = (j+n/2)%n*n + (i+n/2)%n
			}
			d.sum[at] += weight * (real(v)*real(v) + imag(v)*imag(v))
		}
	}
}

// normalise makes the stamp hold all of the star's light.
func (s stamp) normalise() {
	var sum float64
	for _, v := range s.v {
		sum += v
	}
	f := 1 / (sum * s.step * s.step)
	for i := range s.v {
		s.v[i] *= f
	}
}

// soften blurs the stamp by a pixel (square, mm), a Gaussian (sd, mm) and a
// straight smear (mm), through g, a grid of the stamp's size.
func (s stamp) soften(g *grid, pixel, sd, smearX, smearY float64) {
	n := s.n
	for i, v := range s.v {
		g.v[i] = complex(v, 0)
	}
	g.forward()
	per := 1 / (float64(n) * s.step) // cycles per mm of one index
	along := make([]float64, n)
	for i := range along {
		f := g.frequency(i) * per
		along[i] = sinc(f*pixel) * math.Exp(-2*sq(math.Pi*f*sd)) / float64(n)
	}
	for y := range n {
		fy := g.frequency(y) * per
		for x := range n {
			m := along[x] * along[y]
			if smearX != 0 || smearY != 0 {
				m *= sinc(g.frequency(x)*per*smearX + fy*smearY)
			}
			g.v[y*n+x] *= complex(m, 0)
		}
	}
	g.backward()
	for i, v := range g.v {
		s.v[i] = math.Max(real(v), 0)
	}
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// at returns the light per mm^2 at (x, y) mm from the chief ray, by cubic
// convolution (Keys 1981, a = -1/2; from memory); 0 outside.
func (s stamp) at(x, y float64) float64 {
	if s.flip {
		x, y = -x, -y
	}
	x, y = x/s.step+float64(s.n/2), y/s.step+float64(s.n/2)
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 1 || j < 1 || i > s.n-3 || j > s.n-3 {
		return 0
	}
	cx, cy := keys(x-float64(i)), keys(y-float64(j))
	var sum float64
	for b := range 4 {
		row := s.v[(j-1+b)*s.n+i-1:]
		sum += cy[b] * (cx[0]*row[0] + cx[1]*row[1] + cx[2]*row[2] + cx[3]*row[3])
	}
	return math.Max(sum, 0)
}

func keys(t float64) [4]float64 {
	u := 1 - t
	return [4]float64{
		-0.5 * t * u * u,
		1 + t*t*(1.5*t-2.5),
		1 + u*u*(1.5*u-2.5),
		-0.5 * u * t * t,
	}
}
