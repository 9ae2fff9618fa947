package peephole

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
)

// oval places an outline that is not quite a circle: the secondary, cut at 45
// degrees, looks round only from where its offset was made for. About the circle c
// the distance from its centre is r0 + x cos a + y sin a and two terms in 2 a; of an
// ellipse that is nearly round x, y is its centre's place. Where too little is seen
// the circle stays.
func (p *picture) oval(c Circle, sense, reach, least float64) Circle {
	const terms = 5
	points := p.trace(c, sense, reach, least, nil)
	n := len(points)
	if n < rays/2 {
		return c
	}
	row := func(i int) (a [terms]float64, r float64) {
		d := r2.Sub(points[i], c.Centre)
		r = r2.Norm(d)
		cos, sin := d.X/r, d.Y/r
		return [terms]float64{1, cos, sin, cos*cos - sin*sin, 2 * sin * cos}, r
	}
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	var x mat.VecDense
	for round := range 6 {
		normal, right := mat.NewSymDense(terms, nil), mat.NewVecDense(terms, nil)
		for i := range points {
			a, r := row(i)
			for j := range a {
				right.SetVec(j, right.AtVec(j)+w[i]*a[j]*r)
				for k := j; k < terms; k++ {
					normal.SetSym(j, k, normal.At(j, k)+w[i]*a[j]*a[k])
				}
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(normal) || chol.Cond() > 1e6 || chol.SolveVecTo(&x, right) != nil {
			return c
		}
		limit := math.Max(1, 4/float64(1+round))
		for i := range points {
			a, r := row(i)
			for j := range a {
				r -= a[j] * x.AtVec(j)
			}
			w[i] = 0
			if u := r / limit; math.Abs(u) < 1 {
				w[i] = (1 - u*u) * (1 - u*u)
			}
		}
	}
	off := r2.Vec{X: x.AtVec(1), Y: x.AtVec(2)}
	if r2.Norm(off) > reach || math.Abs(x.AtVec(0)-c.Radius) > reach {
		return c
	}
	c.Centre, c.Radius = r2.Add(c.Centre, off), x.AtVec(0)
	return c
}
