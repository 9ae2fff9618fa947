package optics

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.7g, want %.7g (within %g)", what, got, want, tol)
	}
}

// telescope-optics.net, Newtonian off-axis aberrations, eq. 70 to 70.2: RMS at
// best focus 6.7 h / F^3 waves at 550 nm, and radius F^3 / 90 for Strehl 0.80.
// The table's digits are calculated from these.
func TestComaTable(t *testing.T) {
	for _, e := range []struct{ f, w131, rms, radius float64 }{
		{4, 0.8878, 0.10463, 0.712}, {4.5, 0.6235, 0.07348, 1.014}, {5, 0.4545, 0.05357, 1.391},
		{6, 0.2630, 0.03100, 2.404}, {8, 0.1110, 0.01308, 5.699}, {10, 0.0568, 0.00670, 11.131},
	} {
		s := Telescope{Aperture: 1000 / e.f, FocalLength: 1000, Secondary: 1e-9}
		near(t, "W131 per mm", s.Coma(1), e.w131, 1e-4)
		near(t, "RMS per mm", s.ComaRMS(1), e.rms, 1e-5)
		near(t, "6.7 h / F^3", s.ComaRMS(1), 6.7/(e.f*e.f*e.f), 1e-3*s.ComaRMS(1))
		near(t, "radius for Strehl 0.80", s.Tolerance(), e.radius, 0.004*e.radius)
		near(t, "RMS at that radius", s.ComaRMS(s.Tolerance()), ToleranceRMS, 0.004*ToleranceRMS)
	}
}

// The exact diffraction integral for F/5, h = 1.3914 mm gives Strehl 0.8016
// (calculated independently); exp(-x) is good to 0.1 % at these errors.
func TestStrehl(t *testing.T) {
	s := Telescope{Aperture: 200, FocalLength: 1000, Secondary: 1e-9}
	near(t, "W131", s.Coma(1.3914), 0.63246, 1e-5)
	near(t, "RMS", s.ComaRMS(1.3914), 0.074536, 1e-6)
	near(t, "Strehl", Strehl(s.ComaRMS(1.3914)), 0.8016, 0.002)
}

// Mahajan, Zernike annular polynomials, Suppl. Appl. Opt. 33, 8125 (1994), Table 1;
// the digits agree with quadrature, which is repeated here.
func TestAnnularComa(t *testing.T) {
	want := map[float64]float64{0: 0.117851, 0.20: 0.119568, 0.25: 0.120025, 0.30: 0.120149, 0.35: 0.119745, 0.50: 0.113537}
	for eps, w := range want {
		near(t, "table", annularComaRMS(eps), w, 1e-6)
		near(t, "quadrature", annularComaRMS(eps), annulusRMS(eps, balancingTilt(eps)), 1e-6)
		if r := annulusRMS(eps, balancingTilt(eps)*1.01); r < annularComaRMS(eps) {
			t.Errorf("eps %g: another tilt leaves less RMS", eps)
		}
	}
}

// balancingTilt returns the tilt, as a fraction of W131, that leaves coma least
// RMS over the annulus: 2/3 for eps = 0.
func balancingTilt(eps float64) float64 {
	e2 := eps * eps
	return 2.0 / 3 * (1 + e2 + e2*e2) / (1 + e2)
}

// annulusRMS integrates (rho^3 - tilt rho)^2 cos^2 over the annulus, Simpson's rule.
func annulusRMS(eps, tilt float64) float64 {
	const n = 2000
	sum, d := 0.0, (1-eps)/n
	for i := 0; i <= n; i++ {
		rho := eps + d*float64(i)
		w := 2.0 + 2*float64(i%2)
		if i == 0 || i == n {
			w = 1
		}
		v := rho*rho*rho - tilt*rho
		sum += w * v * v * rho
	}
	return math.Sqrt(sum * d / 3 * math.Pi / (math.Pi * (1 - eps*eps)))
}

// Noll, J. Opt. Soc. Am. 66, 207 (1976): the worked values for one short exposure
// at 1, 2 and 3 arcsec, calculated from his coma term.
func TestAir(t *testing.T) {
	arcsec := math.Pi / 180 / 3600
	for _, e := range []struct{ seeing, d200, d150, d250 float64 }{
		{1, 0.0204, 0.0161, 0.0246}, {2, 0.0364, 0.0286, 0.0438}, {3, 0.0510, 0.0401, 0.0615},
	} {
		r0 := FriedParameter(e.seeing * arcsec)
		near(t, "D 200", Telescope{Aperture: 200}.AirComa(r0), e.d200, 1e-4)
		near(t, "D 150", Telescope{Aperture: 150}.AirComa(r0), e.d150, 1e-4)
		near(t, "D 250", Telescope{Aperture: 250}.AirComa(r0), e.d250, 1e-4)
	}
	near(t, "r0 at 2 arcsec", FriedParameter(2*arcsec), 55.6, 0.1)
	near(t, "image motion", Telescope{Aperture: 200}.ImageMotion(FriedParameter(2*arcsec))/arcsec, 0.70, 0.01)
}

// telescope-optics.net, defocus page, eq. 25: the peak is the longitudinal defocus / 8F^2.
func TestDefocus(t *testing.T) {
	s := newtonian(1000, 5)
	near(t, "radius", s.RingRadius(-5), 0.5, 1e-12)
	near(t, "waves", s.DefocusWaves(5), 45.45, 0.01)
	near(t, "back again", s.Defocus(s.RingRadius(5)), 5, 1e-12)
	near(t, "best defocus", s.BestDefocus(), 4.4, 0.01)
}

// ISO 261 coarse and ASME B1.1 pitches: tilt per turn on b = 80 mm and the axis
// point's way per 1/16 turn at f = 1000 mm (calculated).
func TestThreads(t *testing.T) {
	for pitch, want := range map[float64][2]float64{
		0.5: {4.167, 0.260}, 0.8: {6.667, 0.417}, 1.25: {10.417, 0.651}, 25.4 / 32: {6.615, 0.413}, 25.4 / 20: {10.583, 0.661},
	} {
		near(t, "mrad per turn", 1000*KnobTilt(1, pitch, 80), want[0], 1e-3)
		near(t, "mm per 1/16 turn", 1000*KnobTilt(1.0/16, pitch, 80), want[1], 1e-3)
	}
}

// A mirror tilted and the star re-centred by moving the tube: one side of focus
// reads up to twice too far or the wrong way. Traced values for F/5, f 1000,
// dist 800, eps 0.25, h 2.083: +31.1 um outside (z 5), 2.3 um the wrong way inside.
func TestOneSideMisleads(t *testing.T) {
	s := newtonian(1000, 5)
	s.SecondaryDistance = 800
	axis := r2.Vec{X: 2.083}
	c := s.Silhouette(r2.Vec{}, axis, r2.Vec{})
	out := s.Offset(r2.Vec{}, axis, c, 5).X
	in := s.Offset(r2.Vec{}, axis, c, -5).X
	near(t, "outside, um", out*1000, 31.1, 0.4)
	near(t, "inside, um", in*1000, -2.3, 0.4)
	coma, _ := Pair(r2.Vec{X: in}, r2.Vec{X: out}, 0.5, 0.5)
	near(t, "axis point from both", s.AxisPoint(r2.Vec{}, coma).X, 2.083, 0.01)
}

func TestUnknownSecondary(t *testing.T) {
	s := Telescope{Aperture: 200, FocalLength: 1000}
	near(t, "obstruction", s.Obstruction(), usualObstruction, 0)
	near(t, "distance", s.SecondaryAt(), 820, 0)
}
