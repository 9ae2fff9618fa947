package platescale_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/platescale"
	"halocue/internal/simulate/telescope"
)

// The drift's size: 15 times the ratio of the sidereal to the solar rate, and what
// it comes to on the sensor of f = 1000 mm: 72.9 micrometres a second on the
// equator (the Earth's rotation is 7.2921e-5 rad/s: IERS Conventions), 0.94 for
// Polaris at J2000 (declination 89.264, Hipparcos), which drifts by 0.19 arcsec/s.
func TestRates(t *testing.T) {
	for _, c := range []struct{ dec, arcsec, um float64 }{{0, 15.04107, 72.921}, {89.264109, 0.1932, 0.9366}, {-60, 7.520534, 36.4606}} {
		rate := platescale.Rate(c.dec)
		um := rate / 206264.806 * 1000 * 1000
		if math.Abs(rate-c.arcsec) > 5e-5 || math.Abs(um-c.um) > 5e-4 {
			t.Errorf("declination %g: %.5f arcsec/s, %.4f um/s; want %g, %g", c.dec, rate, um, c.arcsec, c.um)
		}
	}
}

// run makes positions ten times a second, with scatter that neighbours share.
func run(r *rand.Rand, seconds float64, v r2.Vec, scatter, memory float64) []platescale.Point {
	var points []platescale.Point
	var wander r2.Vec
	for i := range int(seconds * 10) {
		wander = r2.Scale(memory, wander)
		wander = r2.Add(wander, r2.Scale(scatter*math.Sqrt(1-memory*memory), r2.Vec{X: r.NormFloat64(), Y: r.NormFloat64()}))
		t := float64(i) / 10
		points = append(points, platescale.Point{T: t, At: r2.Add(r2.Vec{X: 100, Y: 700}, r2.Add(r2.Scale(t, v), wander))})
	}
	return points
}

// Sigma is what it says: over many runs the errors, in sigmas, scatter by 1, with
// independent noise and with noise that lasts half a second.
func TestSigmaIsHonest(t *testing.T) {
	v := r2.Vec{X: 14, Y: -6}
	for _, memory := range []float64{0, 0.8} {
		r := rand.New(rand.NewPCG(1, 2))
		var pulls float64
		const runs = 300
		for range runs {
			l, err := platescale.Fit(run(r, 60, v, 1.5, memory))
			if err != nil {
				t.Fatal(err)
			}
			pulls += r2.Norm2(r2.Sub(l.Velocity, v)) / (l.Sigma * l.Sigma) / 2
		}
		// 600 numbers of variance 1 scatter by 6 % about it; a robust fit and a
		// correlation time that is itself measured are worth some more.
		if rms := math.Sqrt(pulls / runs); rms < 0.85 || rms > 1.2 {
			t.Errorf("memory %g: errors are %.2f sigma RMS", memory, rms)
		}
	}
}

// Frames without a star, a satellite, and the star's being lost for a while.
func TestDropOutsAndStrays(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	v := r2.Vec{X: -11, Y: 9}
	var kept []platescale.Point
	for i, p := range run(r, 60, v, 1, 0.5) {
		switch {
		case i > 200 && i < 260, r.Float64() < 0.2:
			continue
		case r.Float64() < 0.15:
			p.At = r2.Vec{X: 1280 * r.Float64(), Y: 960 * r.Float64()}
		}
		kept = append(kept, p)
	}
	l, err := platescale.Fit(kept)
	if err != nil {
		t.Fatal(err)
	}
	if off := r2.Norm(r2.Sub(l.Velocity, v)); off > 4*math.Sqrt2*l.Sigma || l.Sigma > 0.02 || l.Used > l.Of*9/10 {
		t.Errorf("off by %.4f px/s with sigma %.4f, %d of %d used", off, l.Sigma, l.Used, l.Of)
	}
}

// What must not become a plate scale.
func TestRefusals(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	v := r2.Vec{X: 12}
	tracked := run(r, 60, v, 0.5, 0)
	for i := range tracked[:300] { // tracking until the half
		tracked[i].At.X = tracked[300].At.X
	}
	kicked := run(r, 60, v, 0.5, 0)
	for i := range kicked {
		if i > 300 {
			kicked[i].At.Y += 200
		}
	}
	for name, c := range map[string]struct {
		points []platescale.Point
		want   error
	}{
		"few":           {run(r, 1, v, 0.5, 0), platescale.ErrFew},
		"still":         {run(r, 60, r2.Vec{}, 0.5, 0), platescale.ErrStill},
		"tracked first": {tracked, platescale.ErrUnsteady},
		"kicked":        {kicked, platescale.ErrUnsteady},
	} {
		if l, err := platescale.Fit(c.points); !errors.Is(err, c.want) {
			t.Errorf("%s: %+v, %v; want %v", name, l, err, c.want)
		}
	}
	if _, err := platescale.Measure(run(r, 60, v, 0.5, 0), 90, platescale.Stretch{Factor: 1}); err == nil {
		t.Error("a star on the pole gave a scale")
	}
}

// The virtual telescope with its drive off, in 2 arcsec of seeing and wind, from
// several declinations and camera angles: the scale is right within 4 of its
// sigmas, and the pixel with it. The sensor of 3.75 um at 1000 mm is 0.7735
// arcsec per pixel (206.265 * 3.75 / 1000).
func TestVirtualTelescope(t *testing.T) {
	for seed, c := range []struct{ dec, angle float64 }{{0, 0}, {-20, 2}, {45, -1.3}, {74, 3.05}} {
		n := telescope.Demo(uint64(seed))
		n.Sky.Seeing, n.Mount.Shake, n.Mount.ShakeHz, n.Mount.KickEvery = 2, 0.004, 1.5, 0
		n.Telescope.FocalLength, n.Camera.Pixel = 1000, 0.00375
		um := 72.921159 * math.Cos(c.dec*math.Pi/180)
		west := r2.Vec{X: math.Cos(c.angle), Y: math.Sin(c.angle)}
		n.Mount.Drift = r2.Scale(um/1000, west)
		n.Star = r2.Scale(-um/1000*20, west)
		tel := telescope.New(n)
		var points []platescale.Point
		for i := range 400 {
			tel.Advance(float64(i) / 10)
			if v := tel.Look(); v.Found {
				points = append(points, platescale.Point{T: v.T, At: v.Star})
			}
		}
		r, err := platescale.Measure(points, c.dec, platescale.OfRing(n.Telescope.FocalRatio()))
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		const truth = 0.773493
		turned := math.Abs(math.Remainder(r.WestDeg()-c.angle*180/math.Pi, 360))
		if math.Abs(r.ArcsecPerPX-truth) > 4*r.Sigma || r.Sigma > 0.003*truth || turned > 4*r.WestSigma {
			t.Errorf("seed %d: %.5f +- %.5f arcsec/px, west off by %.3f +- %.3f deg", seed, r.ArcsecPerPX, r.Sigma, turned, r.WestSigma)
		}
		if p := r.PixelUM(1000); math.Abs(p-3.75) > 4*r.Sigma/truth*3.75 {
			t.Errorf("seed %d: a pixel of %.4f um", seed, p)
		}
		if f := r.FocalLengthMM(3.75); math.Abs(f-1000) > 4*r.Sigma/truth*1000 {
			t.Errorf("seed %d: a focal length of %.1f mm", seed, f)
		}
	}
}

func TestWestOnTheClock(t *testing.T) {
	for hour, v := range map[int]r2.Vec{3: {X: 1}, 6: {Y: 1}, 9: {X: -1}, 12: {Y: -1}, 4: {X: 0.87, Y: 0.5}, 10: {X: -0.87, Y: -0.5}} {
		if got := (platescale.Result{West: v}).WestHour(); got != hour {
			t.Errorf("%v is %d o'clock, want %d", v, got, hour)
		}
	}
}
