package telescope

import "math"

// noll is the order of each Zernike term by Noll's numbers, 2 to 15 (Noll 1976, Table I).
var noll = [...]int{2: 1, 3: 1, 4: 2, 5: 2, 6: 2, 7: 3, 8: 3, 9: 3, 10: 3, 11: 4, 12: 4, 13: 4, 14: 4, 15: 4}

// lastTerm is the highest Zernike term in use.
const lastTerm = len(noll) - 1

// nollVariance returns the variance of term j in Kolmogorov turbulence, in units
// of (D/r0)^(5/3) rad^2 (from Noll 1976). Terms of one order
// n have the same variance.
func nollVariance(j int) float64 {
	return [...]float64{1: 0.4489, 2: 0.02322, 3: 0.00619, 4: 0.00245}[noll[j]]
}

// zernike returns term j (2 to 15), of unit variance over the unit disc.
func zernike(j int, x, y float64) float64 {
	r2 := x*x + y*y
	switch j {
	case 2:
		return 2 * x
	case 3:
		return 2 * y
	case 4:
		return math.Sqrt(3) * (2*r2 - 1)
	case 5:
		return math.Sqrt(6) * 2 * x * y
	case 6:
		return math.Sqrt(6) * (x*x - y*y)
	case 7:
		return math.Sqrt(8) * (3*r2 - 2) * y
	case 8:
		return math.Sqrt(8) * (3*r2 - 2) * x
	case 9:
		return math.Sqrt(8) * (3*x*x - y*y) * y
	case 10:
		return math.Sqrt(8) * (x*x - 3*y*y) * x
	case 11:
		return math.Sqrt(5) * (6*r2*r2 - 6*r2 + 1)
	case 12:
		return math.Sqrt(10) * (4*r2 - 3) * (x*x - y*y)
	case 13:
		return math.Sqrt(10) * (4*r2 - 3) * 2 * x * y
	case 14:
		return math.Sqrt(10) * (x*x*x*x - 6*x*x*y*y + y*y*y*y)
	case 15:
		return math.Sqrt(10) * 4 * x * y * (x*x - y*y)
	}
	return 0
}
