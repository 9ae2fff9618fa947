package baseline

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"gocv.io/x/gocv"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/ring"
	"halocue/vision/robust"
)

// On a clean outline OpenCV's fitEllipse and our circle find the same centre.
func TestFitEllipseFindsTheSameCentre(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, want := range []ring.Circle{{X: 100.3, Y: 80.7, Radius: 60.2}, {X: 312.4, Y: 251.1, Radius: 118}, {X: 40, Y: 41.9, Radius: 9.5}} {
		var points []r2.Vec
		var whole []image.Point
		for k := range 180 {
			sin, cos := math.Sincos(float64(k) * math.Pi / 90)
			d := want.Radius + 0.05*r.NormFloat64()
			p := r2.Vec{X: want.X + d*cos, Y: want.Y + d*sin}
			points = append(points, p)
			whole = append(whole, image.Pt(int(math.Round(fine*p.X)), int(math.Round(fine*p.Y))))
		}
		v := gocv.NewPointVectorFromPoints(whole)
		c := gocv.FitEllipse(v).Center
		v.Close()
		got, _, ok := robust.FitCircle(points)
		// Each centre is known to 0.05 sqrt(2/180) = 0.005 px; they share the noise.
		if far := math.Hypot(got.X-float64(c.X)/fine, got.Y-float64(c.Y)/fine); !ok || !(far < 0.005) {
			t.Errorf("%v: OpenCV's centre %v is %.4f px from ours, %v", want, c, far, got)
		}
	}
}
