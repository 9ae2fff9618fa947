package hands

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat"
)

// third is a third of a second of a star at 30 frames a second, mm.
func third() []Point {
	rnd := rand.New(rand.NewPCG(5, 6))
	pts := make([]Point, 11)
	for i := range pts {
		t := 100 + float64(i)/30
		pts[i] = Point{T: t, At: r2.Vec{X: 0.2*t + 0.01*rnd.NormFloat64(), Y: -0.1*t + 0.01*rnd.NormFloat64()}}
	}
	return pts
}

// general is slope by the general library.
func general(pts []Point) (v r2.Vec, spread float64) {
	t, x, y := make([]float64, len(pts)), make([]float64, len(pts)), make([]float64, len(pts))
	for i, p := range pts {
		t[i], x[i], y[i] = p.T, p.At.X, p.At.Y
	}
	_, v.X = stat.LinearRegression(t, x, nil, false)
	_, v.Y = stat.LinearRegression(t, y, nil, false)
	return v, stat.Variance(t, nil) * float64(len(t)-1)
}

func TestSlopeAgreesWithGonum(t *testing.T) {
	pts := third()
	got, spread := Slope(pts)
	want, wantSpread := general(pts)
	if r2.Norm(r2.Sub(got, want)) > 1e-9 || math.Abs(spread-wantSpread) > 1e-9 {
		t.Errorf("slope %v, spread %v; gonum has %v and %v", got, spread, want, wantSpread)
	}
}

func BenchmarkSlope(b *testing.B) {
	pts := third()
	for name, f := range map[string]func([]Point) (r2.Vec, float64){"ours": Slope, "gonum": general} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f(pts)
			}
		})
	}
}
