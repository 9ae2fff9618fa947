package telescope

import "testing"

// Zernike terms are orthonormal over the unit disc (Noll 1976, eq. 3).
func TestZernikeTermsAreOrthonormal(t *testing.T) {
	const n = 400
	for a := 2; a <= lastTerm; a++ {
		for b := a; b <= lastTerm; b++ {
			var sum, area float64
			for i := range n {
				for k := range n {
					x, y := (float64(i)+0.5)*2/n-1, (float64(k)+0.5)*2/n-1
					if x*x+y*y <= 1 {
						sum += zernike(a, x, y) * zernike(b, x, y)
						area++
					}
				}
			}
			want := 0.0
			if a == b {
				want = 1
			}
			near(t, "inner product", sum/area, want, 0.006)
		}
	}
}

// Noll 1976, Table IV: what is left after taking j = 1..J out. The sum over all
// terms is 1.0324 with the exact constant.
func TestNollVariancesAreTheTable(t *testing.T) {
	left := 1.0324
	for j, want := range []float64{4: 0.1114, 6: 0.0650, 8: 0.0526, 11: 0.0378} {
		if want == 0 {
			continue
		}
		sum := left
		for k := 2; k <= j; k++ {
			sum -= nollVariance(k)
		}
		near(t, "residual", sum, want, 0.003*1.0324)
	}
}
