package ring

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// sectors is how many parts of the ring are left out in turn.
const sectors = 24

// covariance returns two covariances of the free parameters. inv is A^-1, where A is the
// normal matrix that accumulate left: the error by the noise of the light alone. cov is
// the delete-a-group jackknife over sectors of the ring: how far the answer moves when a
// sector is left out. Within a sector the residuals may be correlated in any way
// (fringes, vanes, dew, speckles: everything that is not in the model), so cov is right
// where noise is not the only error. Efron & Tibshirani, An Introduction to the
// Bootstrap, ch. 11 (from memory). ok is false where A, or A without a sector, is
// singular.
func (f *fitter) covariance(q *params) (cov, inv *mat.SymDense, ok bool) {
	n := len(f.free)
	var ch mat.Cholesky
	if !ch.Factorize(f.normal) {
		return nil, nil, false
	}
	inv = mat.NewSymDense(n, nil)
	if ch.InverseTo(inv) != nil {
		return nil, nil, false
	}
	score := make([]float64, sectors*n)
	part := make([][]float64, sectors)
	for k := range part {
		part[k] = make([]float64, n*n)
	}
	row := make([]float64, n)
	var t tap
	for i := range f.data {
		if f.weight[i] == 0 {
			continue
		}
		r := f.residual(i, q)
		f.row(i, q, &t, row)
		d := &f.data[i]
		k := int((math.Atan2(d.y-q[pY], d.x-q[pX])/(2*math.Pi) + 0.5) * sectors)
		k = min(max(k, 0), sectors-1)
		w := f.weight[i] / f.sigma[i]
		for a := range n {
			score[k*n+a] += w * r * row[a]
			wa := w / f.sigma[i] * row[a]
			for b := a; b < n; b++ {
				part[k][a*n+b] += wa * row[b]
			}
		}
	}
	cov = mat.NewSymDense(n, nil)
	rest := mat.NewSymDense(n, nil)
	var moved mat.VecDense
	for k := range sectors {
		for a := range n {
			for b := a; b < n; b++ {
				rest.SetSym(a, b, f.normal.At(a, b)-part[k][a*n+b])
			}
		}
		if !ch.Factorize(rest) || ch.SolveVecTo(&moved, mat.NewVecDense(n, score[k*n:(k+1)*n])) != nil {
			return nil, nil, false
		}
		cov.SymRankOne(cov, (sectors-1.0)/sectors, &moved)
	}
	return cov, inv, true
}
