package robust

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// FitCircle returns the circle with the least sum of squared distances from the
// points (the geometric fit: Gander, Golub, Strebel, BIT 34, 558-578, 1994), all
// of one weight, and that sum. ok is false for fewer than 3 points, or points on
// a line.
func FitCircle(points []r2.Vec) (c Circle, squares float64, ok bool) {
	x, y, w := make([]float64, len(points)), make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		x[i], y[i], w[i] = p.X, p.Y, 1
	}
	if c, ok = Taubin(x, y, w); !ok {
		return c, 0, false
	}
	c = Geometric(Oval{Circle: c}, x, y, w, 200, 3).Circle
	for i := range x {
		squares += sq(math.Hypot(x[i]-c.X, y[i]-c.Y) - c.Radius)
	}
	return c, squares, c.Radius > 0 && !math.IsInf(c.Radius, 0) && !math.IsNaN(squares)
}
