package platescale_test

import (
	"context"
	"flag"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/optics"
	"halocue/internal/platescale"
	"halocue/internal/run/parts"
	"halocue/internal/simulate/telescope"
)

var allDrifts = flag.Bool("all-drifts", false, "measure all twelve synthetic drifts, which takes half a minute")

// Plate scale and west from rendered frames, measured as halocue scale measures
// them. The truth is 206.265 pixel / f (the small-angle formula of any handbook; 1
// radian is 206265 arc seconds); a phone behind an eyepiece has the pixel that its
// lens and the eyepiece make of its own: p f_eyepiece / f_phone at the mirror's focus.
// -v prints the table, -all-drifts makes it whole.
func TestScaleAgreement(t *testing.T) {
	phone := func(pixel, eyepiece, lens float64) float64 { return pixel * eyepiece / lens }
	rows := []struct {
		what                          string
		f, ratio, um, dec, angle, see float64
		width, height                 int
		z                             float64 // in Demo's; small: a star near focus
	}{
		{"camera", 750, 5, 3.75, 0, 10, 2, 1280, 960, 1},
		{"phone, 25 mm", 1000, 5, phone(1.4, 25, 5), 20, -160, 2, 640, 480, 1},
		{"camera", 1000, 5, 3.75, -30, 100, 1, 1280, 960, 1},
		{"camera", 1200, 6, 2.9, 60, 45, 3.5, 1280, 960, 1},
		{"camera", 800, 4, 2.4, 70, -20, 2, 1280, 960, 1},
		{"camera", 1200, 8, 5.86, 5, 175, 2, 800, 600, 1},
		{"phone, 20 mm", 1200, 6, phone(1.2, 20, 4.2), 40, 30, 3, 640, 480, 1},
		{"phone, 32 mm", 750, 5, phone(1.0, 32, 4.4), -10, -75, 2, 640, 480, 1},
		{"near focus", 750, 5, 3.75, 30, 120, 2, 640, 480, 0.05},
		{"near focus", 1000, 5, phone(1.4, 25, 5), -55, -5, 3, 640, 480, 0.05},
		{"camera", 1500, 5, 4.63, 0, -130, 3.5, 1280, 960, 1},
		{"camera", 650, 5, 2.4, 50, 60, 1, 1280, 960, 1},
	}
	if !*allDrifts {
		rows = rows[1:4]
	}
	t.Logf("%-13s %6s %4s %6s %5s %4s   %-9s %-18s %6s %8s", "", "f mm", "F", "um", "dec", "see", "true", "measured", "sigmas", "west off")
	sum := 0.0
	for seed, row := range rows {
		n := telescope.Demo(uint64(seed))
		d := row.f / row.ratio
		n.Telescope = optics.Telescope{Aperture: d, FocalLength: row.f, Secondary: d / 4}
		n.Camera.Pixel, n.Camera.Width, n.Camera.Height = row.um/1000, row.width, row.height
		n.Sky.Seeing, n.Z, n.Mount.KickEvery = row.see, n.Z*row.z, 0
		n.Sky.Flux = 1
		n.Sky.Flux = 0.5 / n.Level(n.Z)
		const seconds, fps = 30, 2
		west := r2.Rotate(r2.Vec{X: 1}, row.angle*math.Pi/180, r2.Vec{})
		n.Mount.Drift = r2.Scale(platescale.Rate(row.dec)/206264.806*row.f, west)
		n.Star = r2.Scale(-seconds/2, n.Mount.Drift)
		c := config.Default()
		c.Telescope = config.Telescope{ApertureMM: d, FocalLengthMM: row.f, SecondaryMM: d / 4}
		src := telescope.NewSource(n, telescope.SourceOptions{FPS: fps})
		points, stretch, err := platescale.Watch(context.Background(), src, parts.AnyMeter(c), c.Optics(), seconds)
		if err != nil {
			t.Fatal(err)
		}
		r, err := platescale.Measure(points, row.dec, stretch)
		if err != nil {
			t.Errorf("row %d, %d points: %v", seed, len(points), err)
			continue
		}
		truth := 206.264806 * row.um / row.f
		pull := (r.ArcsecPerPX - truth) / r.Sigma
		turned := math.Remainder(r.WestDeg()-row.angle, 360)
		sum += pull * pull
		t.Logf("%-13s %6.0f %4.0f %6.2f %5.0f %4.1f   %.5f   %.5f +- %.5f %6.1f %4.2f +- %.2f", row.what, row.f, row.ratio, row.um, row.dec, row.see,
			truth, r.ArcsecPerPX, r.Sigma, pull, turned, r.WestSigma)
		if math.Abs(pull) > 4 || r.Sigma > 0.01*truth || math.Abs(turned) > 4*r.WestSigma {
			t.Errorf("row %d is off", seed)
		}
	}
	if rms := math.Sqrt(sum / float64(len(rows))); rms > 1.8 {
		t.Errorf("the errors are %.2f sigma RMS", rms)
	}
}
