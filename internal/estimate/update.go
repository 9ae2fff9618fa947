package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
)

// workspace is the matrices of a Kalman step, kept from frame to frame.
type workspace struct {
	h                 *mat.Dense     // 2 x 4: how the offset answers to the state
	r                 *mat.DiagDense // 2: the noise
	ph, k, kr         *mat.Dense     // 4 x 2
	s, inv            *mat.Dense     // 2 x 2
	ikh, left, joseph *mat.Dense     // 4 x 4
	nu, si            *mat.VecDense  // 2
	step              *mat.VecDense  // 4
}

func newWorkspace() workspace {
	n := func(r, c int) *mat.Dense { return mat.NewDense(r, c, nil) }
	v := func(n int) *mat.VecDense { return mat.NewVecDense(n, nil) }
	return workspace{
		h: n(2, 4), r: mat.NewDiagDense(2, nil), ph: n(4, 2), k: n(4, 2), kr: n(4, 2), s: n(2, 2), inv: n(2, 2),
		ikh: n(4, 4), left: n(4, 4), joseph: n(4, 4), nu: v(2), si: v(2), step: v(4),
	}
}

// update is the Kalman step in Joseph's form. The noise is what the frames
// scatter by, inflated because neighbours are alike (correlated air); a
// measurement far out counts less, as Huber weights have it.
func (b *Bank) update(h *hypothesis, star r2.Vec, radius float64, offset, light r2.Vec) {
	ga, gq, _ := b.gains(h.side, radius)
	w := &b.work
	w.h.Set(0, 0, ga)
	w.h.Set(0, 2, gq)
	w.h.Set(1, 1, ga)
	w.h.Set(1, 3, gq)
	nu := r2.Sub(offset, b.predict(h.filter, star, radius))
	v := r2.Scale(b.noise.varianceInflation(), b.noise.variance(light))
	if far := b.nis(h, star, radius, offset, light); far > 9 {
		v = r2.Scale(far/9, v)
	}
	w.r.SetDiag(0, v.X)
	w.r.SetDiag(1, v.Y)

	w.ph.Mul(h.p, w.h.T())
	w.s.Mul(w.h, w.ph)
	w.s.Add(w.s, w.r)
	if w.inv.Inverse(w.s) != nil {
		return // cannot be: noise is positive
	}
	w.k.Mul(w.ph, w.inv)
	w.nu.SetVec(0, nu.X)
	w.nu.SetVec(1, nu.Y)
	w.step.MulVec(w.k, w.nu)
	h.x.AddVec(h.x, w.step)

	w.ikh.Mul(w.k, w.h)
	w.ikh.Scale(-1, w.ikh)
	for i := range 4 {
		w.ikh.Set(i, i, w.ikh.At(i, i)+1)
	}
	w.left.Mul(w.ikh, h.p)
	w.joseph.Mul(w.left, w.ikh.T())
	w.kr.Mul(w.k, w.r)
	w.left.Mul(w.kr, w.k.T())
	w.joseph.Add(w.joseph, w.left)
	for i := range 4 {
		for j := i; j < 4; j++ {
			h.p.SetSym(i, j, 0.5*(w.joseph.At(i, j)+w.joseph.At(j, i)))
		}
	}
	w.si.MulVec(w.inv, w.nu)
	h.logW -= 0.5 * (math.Min(mat.Dot(w.nu, w.si), 25) + math.Log(mat.Det(w.s)))

	i := sideIndex(h.side)
	h.seen[i] += 1 / b.noise.varianceInflation()
	h.ever[i] += 1 / b.noise.varianceInflation()
	part := 1 / b.noise.varianceInflation() / h.seen[i]
	h.at[i] = r2.Add(r2.Scale(1-part, h.at[i]), r2.Scale(part, star))
	h.sample(radius, 1/b.noise.varianceInflation())
}
