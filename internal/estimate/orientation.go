package estimate

import "math"

// MeanOrientation sums the grid up: the probability of a mirrored picture, and for the
// likelier parity the mean rotation, radians, -pi to pi, and its circular one-sigma
// (Mardia, Statistics of Directional Data, 1972; from memory).
func (r *KnobModel) MeanOrientation() (mirrored, rotation, sd float64) {
	top := r.top()
	var sum [2]float64
	var x, y [2]float64
	for p := range r.logW {
		for b, l := range r.logW[p] {
			w := math.Exp(l - top)
			s, c := math.Sincos((float64(b) + 0.5) * 2 * math.Pi / bins)
			sum[p] += w
			x[p] += w * c
			y[p] += w * s
		}
	}
	p := 0
	if sum[1] > sum[0] {
		p = 1
	}
	length := math.Hypot(x[p], y[p]) / sum[p]
	return sum[1] / (sum[0] + sum[1]), math.Atan2(y[p], x[p]), math.Sqrt(-2 * math.Log(math.Min(length, 1-1e-6)))
}

// Recall begins with what an earlier night taught, with widened sigma: the camera may have
// been turned since, the hand may be another. Mirrored is a probability, rotation and its
// one-sigma are radians, perTurn is mm of the star a turn of each knob (0 is not known) and
// perTurnSD the one-sigma of its logarithm.
func (r *KnobModel) Recall(mirrored, rotation, rotationSD float64, perTurn, perTurnSD [3]float64) {
	const (
		turned  = 0.3  // chance that the camera sits otherwise now
		loosely = 0.15 // radians, if it does not
	)
	sd := math.Hypot(rotationSD, loosely)
	likelier := 0
	if mirrored > 0.5 {
		likelier = 1
	}
	for p := range r.logW {
		odds := math.Min(math.Max(mirrored, 0.02), 0.98)
		if p == 0 {
			odds = 1 - odds
		}
		for b := range r.logW[p] {
			w := 1.0 / bins
			if p == likelier {
				x := wrap((float64(b)+0.5)*2*math.Pi/bins-rotation) / sd
				w = turned/bins + (1-turned)*math.Exp(-0.5*x*x)*2*math.Pi/bins/(sd*math.Sqrt(2*math.Pi))
			}
			r.logW[p][b] = math.Log(odds * w)
		}
	}
	for k := range r.gain {
		if perTurn[k] > 0 {
			r.gain[k] = math.Log(perTurn[k])
			r.sd[k] = math.Hypot(perTurnSD[k], 0.15)
		}
	}
}
