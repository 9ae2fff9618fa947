package audio

import "math"

// limiter keeps the peak at or below a ceiling. It has no delay: the gain falls in
// the very sample that would be too loud, which is continuous since there the
// gain is exactly one, and comes back slowly.
type limiter struct {
	ceiling, release float64 // the release is the fraction of the way back in a sample
	gain             float64
}

func newLimiter(ceilingDB float64) limiter {
	return limiter{fromDB(ceilingDB), 1 - math.Exp(-1/(0.150*Rate)), 1}
}

func (l *limiter) next(x float64) float64 {
	l.gain += (1 - l.gain) * l.release
	if a := math.Abs(x); a*l.gain > l.ceiling {
		l.gain = l.ceiling / a
	}
	return x * l.gain
}
