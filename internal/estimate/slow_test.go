package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// White noise is not taken for a slow wander; an Ornstein-Uhlenbeck process (Phys. Rev.
// 36, 823, 1930) with a time constant of 900 frames is found, though it is no larger
// than the scatter of single frames.
func TestSlowWanderIsFound(t *testing.T) {
	const runs, frames, sd, tau = 200, 600, 0.002, 900
	r := rand.New(rand.NewPCG(31, 32))
	found := func(size float64) (n int) {
		keep := math.Exp(-1.0 / tau)
		kick := size * math.Sqrt(1-keep*keep)
		for range runs {
			s := newSlow()
			var at r2.Vec // since the start, where it was known
			for range frames {
				at = r2.Add(r2.Scale(keep, at), r2.Vec{X: kick * r.NormFloat64(), Y: kick * r.NormFloat64()})
				nu := r2.Add(at, r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()})
				s.add(r2.Scale(1/sd, nu), nu, sd*sd, 1)
			}
			if s.variance() > 0 {
				n++
			}
		}
		return n
	}
	if n := found(0); n > runs/50 {
		t.Errorf("white noise is taken for a wander %d times in %d", n, runs)
	}
	if n := found(sd); n < runs*95/100 {
		t.Errorf("a wander as large as the scatter is found %d times in %d", n, runs)
	}
}

// A wander is allowed for in full, but not by far more than there is (3.8 times its variance
// measured, plus half as a margin), where the mean of the frames before is what is predicted.
func TestSlowWanderIsMeasured(t *testing.T) {
	const runs, frames, sd, tau = 200, 600, 0.002, 900
	r := rand.New(rand.NewPCG(33, 34))
	keep := math.Exp(-1.0 / tau)
	kick := sd * math.Sqrt(1-keep*keep)
	share := 0.0
	for range runs {
		s := newSlow()
		at := r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()}
		var mean r2.Vec
		for n := range frames {
			at = r2.Add(r2.Scale(keep, at), r2.Vec{X: kick * r.NormFloat64(), Y: kick * r.NormFloat64()})
			offset := r2.Add(at, r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()})
			nu := r2.Sub(offset, mean)
			mean = r2.Add(mean, r2.Scale(1/float64(n+1), nu))
			s.add(r2.Scale(1/sd, nu), nu, sd*sd, 1)
		}
		share += s.variance() / (sd * sd) / runs
	}
	if share < 1 || share > 6 {
		t.Errorf("%.2f of the wander's variance is allowed for", share)
	}
}
