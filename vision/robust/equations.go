package robust

import "math"

// MaxTerms is how many unknowns Equations can have.
const MaxTerms = 5

// Equations are the normal Equations of a weighted least-squares fit, in augmented
// form; only the upper triangle is added to.
type Equations [MaxTerms][MaxTerms + 1]float64

// Add adds an observation r with its derivatives by the unknowns.
func (h *Equations) Add(terms int, w, r float64, by [MaxTerms]float64) {
	for a := range terms {
		wa := w * by[a]
		for b := a; b < terms; b++ {
			h[a][b] += wa * by[b]
		}
		h[a][MaxTerms] += wa * r
	}
}

// Solve solves them by elimination with pivots; ok is false where they are singular.
func (h Equations) Solve(terms int) (s [MaxTerms]float64, ok bool) {
	for a := range terms {
		for b := range a {
			h[a][b] = h[b][a]
		}
	}
	for i := range terms {
		p := i
		for k := i + 1; k < terms; k++ {
			if math.Abs(h[k][i]) > math.Abs(h[p][i]) {
				p = k
			}
		}
		if math.Abs(h[p][i]) < 1e-12 {
			return s, false
		}
		h[i], h[p] = h[p], h[i]
		for k := range terms {
			if k == i {
				continue
			}
			f := h[k][i] / h[i][i]
			for c := i; c < terms; c++ {
				h[k][c] -= f * h[i][c]
			}
			h[k][MaxTerms] -= f * h[i][MaxTerms]
		}
	}
	for i := range terms {
		s[i] = h[i][MaxTerms] / h[i][i]
	}
	return s, true
}
