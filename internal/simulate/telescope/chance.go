package telescope

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"
)

// Streams of random numbers: each part of the night has its own, so that a change in one
// part does not change the others.
const (
	drawStream = iota + 1
	mountStream
	airStream
	lightStream
	handStream
	lockStream
	screenStream
	hotStream
	earStream
	currentStream
	sagStream
)

func chance(seed, stream uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, stream*0x9e3779b97f4a7c15))
}

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func gauss2(r *rand.Rand, sd float64) r2.Vec {
	return r2.Vec{X: sd * r.NormFloat64(), Y: sd * r.NormFloat64()}
}

func polar(length, angle float64) r2.Vec {
	s, c := math.Sincos(angle)
	return r2.Vec{X: length * c, Y: length * s}
}

// wander is a stationary random motion of unit variance per axis, with
// autocorrelation exp(-t/tau) cos(2 pi hz t): the real parts of two complex
// Ornstein-Uhlenbeck processes, exact for any time step.
type wander struct {
	tau, hz float64
	x, y    complex128
	rng     *rand.Rand
}

func newWander(r *rand.Rand, tau, hz float64) wander {
	w := wander{tau: tau, hz: hz, rng: r}
	w.x, w.y = w.kick(1), w.kick(1)
	return w
}

func (w *wander) kick(sd float64) complex128 {
	return complex(sd*w.rng.NormFloat64(), sd*w.rng.NormFloat64())
}

// step moves on by dt seconds and returns where it is.
func (w *wander) step(dt float64) r2.Vec {
	if dt > 0 {
		keep := math.Exp(-dt / w.tau)
		s, c := math.Sincos(2 * math.Pi * w.hz * dt)
		turn := complex(keep*c, keep*s)
		sd := math.Sqrt(1 - keep*keep)
		w.x, w.y = w.x*turn+w.kick(sd), w.y*turn+w.kick(sd)
	}
	return r2.Vec{X: real(w.x), Y: real(w.y)}
}
