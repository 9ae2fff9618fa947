package virtual

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// air is the turbulence in its two lowest harmful modes, for the looks without
// pixels: tilt moves the star, coma leans the shadow. Each has the variance of
// Noll 1976 and two time scales: the main layer's, which passes the mirror in a
// fraction of D / wind, and the tube's own slow air.
type air struct {
	tilt, coma         float64 // RMS per axis: mm on the sensor, mm of field
	slow               float64 // share of the variance in the slow layer
	tiltFast, tiltSlow wander
	comaFast, comaSlow wander
	moved, leant       r2.Vec // now: mm of the star, mm of field vector
}

func newAir(n Night) *air {
	a := &air{slow: n.Sky.Slow}
	t, r0 := n.Telescope, n.Sky.Fried()
	if math.IsInf(r0, 1) {
		return a
	}
	r := chance(n.Seed, airStream)
	a.tilt = t.FocalLength * t.ImageMotion(r0)
	a.coma = t.AirComa(r0) / t.ComaRMS(1)
	cross := t.Aperture / 1000 // seconds for 1 m/s to pass the mirror
	fast, slow := cross/math.Max(n.Sky.Wind, 0.1), cross/SlowWind
	a.tiltFast, a.tiltSlow = newWander(r, 2*fast, 0), newWander(r, 2*slow, 0)
	a.comaFast, a.comaSlow = newWander(r, 0.3*fast, 0), newWander(r, 0.3*slow, 0)
	return a
}

func (a *air) advance(_, dt float64) {
	if a.tilt == 0 {
		return
	}
	a.moved = a.mix(a.tilt, &a.tiltFast, &a.tiltSlow, dt)
	a.leant = a.mix(a.coma, &a.comaFast, &a.comaSlow, dt)
}

func (a *air) mix(sd float64, fast, slow *wander, dt float64) r2.Vec {
	f := r2.Scale(math.Sqrt(1-a.slow), fast.step(dt))
	return r2.Scale(sd, r2.Add(f, r2.Scale(math.Sqrt(a.slow), slow.step(dt))))
}

// blur returns the standard deviation of the blur of an edge by the air, mm on
// the sensor: what is left of a seeing disc of the given FWHM once its motion,
// which moves the whole ring, is taken out. A Gaussian of that FWHM is taken.
func (n Night) blur() float64 {
	if n.Sky.Seeing <= 0 {
		return 0
	}
	whole := n.Telescope.FocalLength * n.Sky.Seeing * arcsec / 2.3548
	motion := n.Telescope.FocalLength * n.Telescope.ImageMotion(optics.FriedParameter(n.Sky.Seeing*arcsec))
	return math.Sqrt(math.Max(whole*whole-motion*motion, 0.01*whole*whole))
}
