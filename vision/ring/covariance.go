package ring

import (
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
func (f *fitter) covariance() (cov, inv *mat.SymDense, ok bool) {
	n := len(f.free)
	var ch mat.Cholesky
	if !ch.Factorize(f.normal) {
		return nil, nil, false
	}
	inv = mat.NewSymDense(n, nil)
	if ch.InverseTo(inv) != nil {
		return nil, nil, false
	}
	cov = mat.NewSymDense(n, nil)
	rest := mat.NewSymDense(n, nil)
	var moved mat.VecDense
	for k := range sectors {
		part, score := f.equations(f.sector[k], f.sector[k+1])
		rest.ScaleSym(-1, mat.NewSymDense(n, part))
		rest.AddSym(rest, f.normal)
		if !ch.Factorize(rest) || ch.SolveVecTo(&moved, mat.NewVecDense(n, score)) != nil {
			return nil, nil, false
		}
		cov.SymRankOne(cov, (sectors-1.0)/sectors, &moved)
	}
	return cov, inv, true
}
