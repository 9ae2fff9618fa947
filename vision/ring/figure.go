package ring

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
)

// Figure is what a ring shows besides its lean.
//
// Oval is how far astigmatism, or whatever else makes the ring oval, moves its
// outline, px: by (Oval.X x + Oval.Y y, Oval.Y x - Oval.X y) at (x, y) on the
// unit circle, so that the outline is a = R + |Oval| long along half the angle of
// the vector (X, Y). Astigmatism of the light turns it by a quarter through focus
// and leaves its size; a sensor that is askew makes it grow with the ring.
//
// Sphere is how far spherical aberration moves the zone rho outward, px, as
// Sphere (rho^3 - rho): > 0 where the zones between crowd inward. It changes its
// sign through focus.
type Figure struct {
	Oval, OvalSigma     r2.Vec
	Sphere, SphereSigma float64
	Fresnel             float64 // Fresnel number of the aperture at 550 nm
	Vanes               []Vane
}

// Vane is a spider vane as the picture shows it: Angle is the direction from the
// shadow outward, radians from x (right) toward y (down), and Width its full
// width, ring radii.
type Vane struct {
	Angle, Width float64
}

// Study measures as Measure does, and looks at the ring's figure besides; ok is
// false where there is no measurement, or only one of outlines. The sigmas are
// from the light alone: the air makes any single short exposure oval.
func (m *Meter) Study(f *frame.Frame) (r Measurement, g Figure, ok bool) {
	m.look = func(ft *fitter, q *params) { g, ok = studied(ft, *q) }
	defer func() { m.look = nil }()
	r = m.Measure(f)
	return r, g, ok && r.Found
}

// studied sets astigmatism and spherical aberration free in a finished fit.
func studied(ft *fitter, q params) (g Figure, ok bool) {
	free := append(append([]int(nil), ft.free...), pA0, pA1, pSph)
	ft.run(&q, free, 3)
	ft.accumulate(&q)
	cov, inv, ok := ft.covariance(&q)
	if !ok {
		return g, false
	}
	sigma := func(i int) float64 { return q[pR] * math.Sqrt(max(diagonal(cov, i), diagonal(inv, i))) }
	n := len(free)
	g.Oval = r2.Vec{X: q[pA0] * q[pR], Y: q[pA1] * q[pR]}
	g.OvalSigma = r2.Vec{X: sigma(n - 3), Y: sigma(n - 2)}
	g.Sphere, g.SphereSigma = q[pSph]*q[pR], sigma(n-1)
	g.Fresnel = ft.fresnel * q[pR]
	for k := range ft.vanes {
		g.Vanes = append(g.Vanes, Vane{Angle: math.Mod(q[pVane+2*k]+4*math.Pi, 2*math.Pi), Width: q[pVane+2*k+1]})
	}
	return g, true
}

func diagonal(m *mat.SymDense, i int) float64 { return max(0, m.At(i, i)) }

// Astigmatism returns waves RMS at 550 nm, over the whole aperture, for an Oval
// of a ring of radius px: a wavefront N Oval/2R (x^2 - y^2) moves the outline by
// Oval (design 2.3), and its RMS is that over sqrt(6) (Noll 1976, terms 5 and 6).
func (g Figure) Astigmatism(oval, radius float64) float64 {
	return g.Fresnel * oval / radius / 2 / math.Sqrt(6)
}

// Spherical returns waves RMS at 550 nm, balanced with defocus over the whole
// aperture, for a Sphere of a ring of radius px: W040 = N Sphere/4R, whose RMS is
// W040 / 6 sqrt(5) (Noll 1976, term 11).
func (g Figure) Spherical(sphere, radius float64) float64 {
	return g.Fresnel * sphere / radius / 4 / (6 * math.Sqrt(5))
}
