package ring

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
)

// Short exposures through the phase screens of an independent program.
func TestSeeingOfAnIndependentProgram(t *testing.T) {
	for _, s := range stars(t, "seeing") {
		m := s.meter()
		var all []Measurement
		for _, name := range s.Files {
			all = append(all, m.Track(load(t, name)))
		}
		got, ok := SeeingOf(s.telescope(), s.PixelUM/1000, all, nil)
		t.Logf("r0 %.1f +- %.1f mm for %.1f", got.R0, got.Sigma, s.R0)
		if !ok || math.Abs(got.R0/s.R0-1) > 0.3 {
			t.Errorf("r0 is %.1f mm, want %.1f", got.R0, s.R0)
		}
	}
}

// Frames through our own phase screens, which have Noll's residuals
// (internal/simulate/telescope), of known r0.
func TestProveSeeingOfKnownAir(t *testing.T) {
	for i, r0 := range []float64{45, 110} {
		n := quiet(2.4)
		n.Seed = uint64(20 + i)
		n.Sky.Seeing, n.Sky.Slow, n.Sky.Wind = 0.98*optics.Wavelength/r0*180*3600/math.Pi, 0, 7
		tel := telescope.New(n)
		m := NewMeter(Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
		var f frame.Frame
		var all []Measurement
		for k := range 24 {
			tel.Advance(1.37 * float64(k))
			tel.Render(&f)
			all = append(all, m.Track(&f))
		}
		s, ok := SeeingOf(n.Telescope, n.Camera.Pixel, all, nil)
		t.Logf("r0 %.1f +- %.1f mm for %g; shaken %v, alike %.2f", s.R0, s.Sigma, r0, s.Shaken, s.Autocorrelation)
		if !ok || math.Abs(s.R0/r0-1) > 0.3 || s.Shaken {
			t.Errorf("r0 is %.1f mm, want %g", s.R0, r0)
		}
	}
}

// airy makes n measurements and figures with the scatter that an air of r0 gives
// coma, astigmatism and motion by Noll's numbers.
func airy(r *rand.Rand, t optics.Telescope, pixel, r0 float64, n int) (ms []Measurement, gs []Figure) {
	lean := leanShare * t.AirComa(r0) / optics.ToleranceRMS * t.Tolerance() * t.OffsetPerField() / pixel
	move := t.ImageMotion(r0) * t.FocalLength / pixel
	two := func(sd float64) r2.Vec { return r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()} }
	for k := range n {
		at := r2.Add(two(move), r2.Vec{X: float64(k), Y: -2 * float64(k)}) // a drift that is none of the air's
		ms = append(ms, Measurement{
			Found: true, Ring: Circle{X: at.X, Y: at.Y, Radius: 80}, Offset: r2.Add(r2.Vec{X: 3}, two(lean)), Sigma: r2.Vec{X: 0.01, Y: 0.01}, NoiseSigma: r2.Vec{X: 0.01, Y: 0.01},
		})
		g := Figure{Fresnel: 50}
		sd := astigmatismShare * math.Sqrt(0.02322*math.Pow(t.Aperture/r0, 5.0/3)) / (2 * math.Pi)
		g.Astigmatism = two(sd / g.AstigmatismWaves(1, 80))
		gs = append(gs, g)
	}
	return ms, gs
}

func TestSeeingFromScatter(t *testing.T) {
	tel := optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}
	const pixel, r0 = 0.00375, 60.0
	r := rand.New(rand.NewPCG(1, 2))
	var pull float64
	shaken := 0
	const times = 200
	for range times {
		ms, gs := airy(r, tel, pixel, r0, 30)
		s, ok := SeeingOf(tel, pixel, ms, gs)
		if !ok {
			t.Fatal("nothing")
		}
		pull += sq((s.R0 - r0) / s.Sigma)
		if s.Shaken {
			shaken++
		}
	}
	if shaken > 3 { // a steady drift is no shaking
		t.Errorf("%d of %d are called shaken", shaken, times)
	}
	if p := math.Sqrt(pull / times); !(p > 0.8 && p < 1.3) {
		t.Errorf("error over claimed sigma is %.2f", p)
	}
	ms, gs := airy(r, tel, pixel, r0, 30)
	for i := range ms { // a mount that shakes ten pixels
		ms[i].Ring.X += 10 * r.NormFloat64()
	}
	if s, ok := SeeingOf(tel, pixel, ms, gs); !ok || !s.Shaken || math.Abs(s.R0/r0-1) > 0.4 {
		t.Errorf("shaken: %+v", s)
	}
}

func TestNoSeeingWhereThereIsNone(t *testing.T) {
	tel := optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}
	r := rand.New(rand.NewPCG(3, 4))
	ms, gs := airy(r, tel, 0.00375, 1e4, 30)
	for i := range ms {
		ms[i].Offset = r2.Vec{X: 0.01 * r.NormFloat64(), Y: 0.01 * r.NormFloat64()} // light alone
	}
	if s, ok := SeeingOf(tel, 0.00375, ms, gs); ok {
		t.Errorf("light alone gives %+v", s)
	}
	if s, ok := SeeingOf(tel, 0.00375, ms[:7], gs[:7]); ok {
		t.Errorf("seven frames give %+v", s)
	}
	same := make([]Measurement, 30)
	for i := range same {
		same[i] = ms[0]
	}
	if s, ok := SeeingOf(tel, 0.00375, same, nil); ok {
		t.Errorf("a standing picture gives %+v", s)
	}
}

// Twice the air's scatter needs four times the frames; frames that are alike, more.
func TestHowLongToLook(t *testing.T) {
	s := Seeing{OffsetScatter: 0.5}
	if n := s.Frames(2.4, 0.1); n != 9 { // from 0.707 to 0.24 px: 8.7
		t.Errorf("%d frames", n)
	}
	s.OffsetScatter = 1
	if n := s.Frames(2.4, 0.1); n != 35 {
		t.Errorf("%d frames", n)
	}
	s.Autocorrelation = 0.5
	if n := s.Frames(2.4, 0.1); n != 105 {
		t.Errorf("%d frames", n)
	}
}
