package platescale

import (
	"context"
	"io"
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/optics"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// clip is a source of n frames, two a second, that begins late.
type clip struct {
	frame.Frame
	n, given int
}

const late = 1000 * time.Second

func (c *clip) Next(context.Context) (*frame.Frame, error) {
	if c.given >= c.n {
		return nil, io.EOF
	}
	c.T = late + time.Duration(c.given)*time.Second/2
	c.given++
	return &c.Frame, nil
}

func (c *clip) Close() error { return nil }

// seen finds a ring until the star has left.
type seen time.Duration

func (s seen) Track(f *frame.Frame) ring.Measurement {
	return ring.Measurement{Found: f.T < late+time.Duration(s), Ring: ring.Circle{X: f.T.Seconds(), Radius: 50}}
}

// The star is watched for the time that was asked for, from the first frame on, and not for
// long after it has left.
func TestWatchEndsInTime(t *testing.T) {
	for _, c := range []struct {
		leaves time.Duration
		points int
		frames int // at most
	}{{time.Hour, 41, 42}, {10 * time.Second, 20, 20 + 2*gone + 2}} {
		src := &clip{n: 200}
		points, _, err := Watch(context.Background(), src, seen(c.leaves), optics.Telescope{}, 20)
		if err != nil || len(points) != c.points || src.given > c.frames {
			t.Errorf("the star leaves after %v: %d points of %d frames, %v", c.leaves, len(points), src.given, err)
		}
	}
}

// The centroid of a star's light: coma takes the ray through the pupil at radius rho and angle
// phi by C rho^2 (2 + cos 2 phi) away from the axis, where 3 C = 3 h / 16 F^2 is the
// tangential coma of a paraboloid (Schroeder, Astronomical Optics; from memory). The mean over
// the annulus is summed here.
func TestStretchOfAllLight(t *testing.T) {
	for _, c := range []struct{ f, eps float64 }{{4, 0}, {5, 0.25}, {8, 0.4}} {
		sum, weight := 0.0, 0.0
		for i := range 1000 {
			rho := c.eps + (1-c.eps)*(float64(i)+0.5)/1000
			sum, weight = sum+rho*2*rho*rho/(16*c.f*c.f), weight+rho
		}
		if got, want := ofLight(c.f, c.eps).Factor, 1+sum/weight; math.Abs(got-want) > 1e-6*want {
			t.Errorf("F/%g, obstruction %g: %.6f, want %.6f", c.f, c.eps, got, want)
		}
	}
}

// The relative error of the pixel and of the focal length is that of the scale.
func TestReportKeepsTheRelativeError(t *testing.T) {
	c := config.Default()
	c.Telescope.FocalLengthMM, c.Camera.PixelUM = 1000, 3.75
	r := NewReport(Result{ArcsecPerPX: 0.8, Sigma: 0.004}, c)
	if math.Abs(*r.PixelSigma / *r.PixelUM - 0.005) > 1e-12 || math.Abs(*r.FocalSigma / *r.FocalMM - 0.005) > 1e-12 {
		t.Errorf("pixel %g +- %g, focal length %g +- %g; want 0.5 %%", *r.PixelUM, *r.PixelSigma, *r.FocalMM, *r.FocalSigma)
	}
}

// The star's declination is never known exactly, and counts by its tangent, as the derivative
// of the drift's rate does: d ln cos(dec) = -tan(dec) d(dec).
func TestDeclinationCountsByItsTangent(t *testing.T) {
	var points []Point
	for i := range 100 {
		points = append(points, Point{T: float64(i), At: r2.Vec{X: 10 * float64(i)}})
	}
	square := func(dec float64) float64 {
		r, err := Measure(points, dec, Stretch{Factor: 1})
		if err != nil {
			t.Fatal(err)
		}
		return r.Sigma * r.Sigma / (r.ArcsecPerPX * r.ArcsecPerPX)
	}
	tan2 := func(dec float64) float64 { s := math.Tan(dec * math.Pi / 180); return s * s }
	low, high := (square(60)-square(0))/tan2(60), (square(80)-square(60))/(tan2(80)-tan2(60))
	if !(low > 0) || math.Abs(high/low-1) > 1e-6 || square(80) > 0.01*0.01 {
		t.Errorf("%g and %g a squared tangent; %g at 80 degrees", low, high, square(80))
	}
}

// The pixel is written into the settings only where the drift gave one: 0.8 arcsec at a focal
// length of 1000 mm is 0.8 / 206.265 mm, 3.879 um.
func TestPixelIsKeptWhereThereIsOne(t *testing.T) {
	for focal, want := range map[float64]float64{0: 3.75, 1000: 3.879} {
		c := config.Default()
		c.Telescope.FocalLengthMM, c.Camera.PixelUM = focal, 3.75
		NewReport(Result{ArcsecPerPX: 0.8, Sigma: 0.004}, c).Into(&c)
		if c.Camera.PixelUM != want || c.Scale.ArcsecPerPX != 0.8 {
			t.Errorf("focal length %g: pixel %g, want %g; scale %g", focal, c.Camera.PixelUM, want, c.Scale.ArcsecPerPX)
		}
	}
}
