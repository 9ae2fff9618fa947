package ring

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// Figure is what a ring shows besides its offset.
//
// Astigmatism A is how far astigmatism, or whatever else makes the ring oval, moves
// its outline, px: by (A.X x + A.Y y, A.Y x - A.X y) at (x, y) on the unit circle, so
// that the outline is a = R + |A| long along half the angle of the vector (X, Y).
// Astigmatism of the light turns by a quarter turn through focus and keeps its size; that
// of a tilted sensor grows with the ring.
//
// Spherical S is how far spherical aberration moves the zone rho outward, px, as
// S (rho^3 - rho): > 0 where the zones between crowd inward. It changes its
// sign through focus.
type Figure struct {
	Astigmatism, AstigmatismSigma r2.Vec
	Spherical, SphericalSigma     float64
	Fresnel                       float64 // Fresnel number of the aperture at 550 nm
	Vanes                         []Vane
}

// Vane is a spider vane as the picture shows it: Angle is the direction from the
// shadow outward, radians from x (right) toward y (down), and Width its full
// width, ring radii.
type Vane struct {
	Angle, Width float64
}

// MeasureAberrations measures as Measure does, and also returns the ring's figure. ok is
// false where there is no measurement, or only one by outlines. The sigmas are from the
// light alone; the air makes every single short exposure oval.
func (m *Meter) MeasureAberrations(f *frame.Frame) (r Measurement, g Figure, ok bool) {
	m.inspect = func(ft *fitter, q *params, cov, inv *mat.SymDense) { g, ok = aberrationsOf(ft, q, cov, inv), true }
	defer func() { m.inspect = nil }()
	r = m.Measure(f)
	return r, g, ok && r.Found
}

// aberrationsOf reads astigmatism and spherical aberration off a finished fit with the
// given covariances.
func aberrationsOf(ft *fitter, q *params, cov, inv *mat.SymDense) (g Figure) {
	sigma := func(p int) float64 {
		i := slices.Index(ft.free, p)
		return q[pR] * math.Sqrt(max(cov.At(i, i), inv.At(i, i)))
	}
	g.Astigmatism = r2.Vec{X: q[pA0] * q[pR], Y: q[pA1] * q[pR]}
	g.AstigmatismSigma = r2.Vec{X: sigma(pA0), Y: sigma(pA1)}
	g.Spherical, g.SphericalSigma = q[pSph]*q[pR], sigma(pSph)
	g.Fresnel = ft.fresnel * q[pR]
	for k := range ft.vanes {
		g.Vanes = append(g.Vanes, Vane{Angle: math.Mod(q[pVane+2*k]+4*math.Pi, 2*math.Pi), Width: q[pVane+2*k+1]})
	}
	return g
}

// AstigmatismWaves returns waves RMS at 550 nm, over the whole aperture, of an
// Astigmatism A in a ring of radius px: a wavefront N A/2R (x^2 - y^2) moves the
// outline by A, and its RMS is that over sqrt(6) (Noll 1976, terms 5 and 6).
func (g Figure) AstigmatismWaves(astigmatism, radius float64) float64 {
	return g.Fresnel * astigmatism / radius / 2 / math.Sqrt(6)
}

// SphericalWaves returns waves RMS at 550 nm, balanced with defocus over the whole
// aperture, of a Spherical S in a ring of radius px: W040 = N S/4R, whose RMS is
// W040 / 6 sqrt(5) (Noll 1976, term 11).
func (g Figure) SphericalWaves(spherical, radius float64) float64 {
	return g.Fresnel * spherical / radius / 4 / (6 * math.Sqrt(5))
}
