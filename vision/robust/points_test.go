package robust

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

var (
	golub = []r2.Vec{{X: 1, Y: 7}, {X: 2, Y: 6}, {X: 5, Y: 8}, {X: 7, Y: 7}, {X: 9, Y: 5}, {X: 3, Y: 7}}
	matt  = []r2.Vec{{X: 0.7, Y: 4.0}, {X: 3.3, Y: 4.7}, {X: 5.6, Y: 4.0}, {X: 7.5, Y: 1.3},
		{X: 6.4, Y: -1.1}, {X: 4.4, Y: -3.0}, {X: 0.3, Y: -2.5}, {X: -1.1, Y: 1.3}}
)

// The worked point sets of Gander, Golub, Strebel, BIT 34, 558-578 (1994; the
// paper prints 4.7398, 2.9835, 4.7142, from memory), and of Gander and von Matt, in
// Solving Problems in Scientific Computing (points from memory). All digits were
// calculated apart from this program.
func TestFitCircleOnPublishedPoints(t *testing.T) {
	for _, c := range []struct {
		name    string
		points  []r2.Vec
		want    Circle
		squares float64
	}{
		{"Gander, Golub, Strebel", golub,
			Circle{4.739782, 2.983533, 4.714226}, 1.227599},
		{"Gander, von Matt", matt,
			Circle{3.043238, 0.745678, 4.105856}, 0.295948},
	} {
		got, squares, ok := FitCircle(c.points)
		if far := math.Hypot(got.X-c.want.X, got.Y-c.want.Y) + math.Abs(got.Radius-c.want.Radius); !ok || !(far < 2e-6) || math.Abs(squares-c.squares) > 1e-6 {
			t.Errorf("%s: %+v, sum of squares %.6f, %v; want %+v, %.6f", c.name, got, squares, ok, c.want, c.squares)
		}
	}
}

func TestFitCircleRefusesLines(t *testing.T) {
	for _, points := range [][]r2.Vec{
		nil, {{X: 1}, {X: 2}}, {{X: 1, Y: 1}, {X: 2, Y: 2}, {X: 3, Y: 3}}, {{X: 1}, {X: 1}, {X: 1}},
	} {
		if c, _, ok := FitCircle(points); ok {
			t.Errorf("%v gave the circle %+v", points, c)
		}
	}
}

// Taubin's circle of the same points, all of one weight and of weights 1, 2, 3, 1, 2 ...,
// by the generalised eigenvalue problem that defines it (SciPy, linalg.eig), and whatever
// the scale.
func TestTaubinIsItsEigenvector(t *testing.T) {
	for _, c := range []struct {
		points         []r2.Vec
		alike, unalike Circle
	}{
		{golub, Circle{4.613933, 2.795209, 4.879213}, Circle{4.912403, 3.393513, 4.363513}},
		{matt, Circle{3.058823, 0.741951, 4.109394}, Circle{3.012352, 0.781056, 4.077170}},
	} {
		for _, scale := range []float64{1e-4, 1, 1e4} {
			var x, y, one, many []float64
			for i, p := range c.points {
				x, y = append(x, scale*p.X), append(y, scale*p.Y)
				one, many = append(one, 1), append(many, float64(1+i%3))
			}
			for _, k := range []struct {
				w    []float64
				want Circle
			}{{one, c.alike}, {many, c.unalike}} {
				got, ok := Taubin(x, y, k.w)
				if far := math.Hypot(got.X/scale-k.want.X, got.Y/scale-k.want.Y) + math.Abs(got.Radius/scale-k.want.Radius); !ok || !(far < 2e-6) {
					t.Errorf("scale %g, weights %v: %+v %v, want %+v", scale, k.w, got, ok, k.want)
				}
			}
		}
	}
}
