package telescope

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// air is the turbulence in its lowest Zernike terms, 2 to 15. Each has the
// variance of Noll 1976 and two time scales: that of the main layer, which passes the
// mirror in a fraction of D / wind, and that of the slow air in the tube.
type air struct {
	strength float64              // (D/r0)^(5/6), radians; 0 for no air
	slow     float64              // share of the variance in the slow layer
	fast     [lastTerm / 2]wander // terms 2 and 3, 4 and 5, ...
	lazy     [lastTerm / 2]wander
	waves    [lastTerm + 1]float64 // the terms now, waves RMS at 550 nm

	moved, leant     r2.Vec // what tilt does to the star, mm, and coma to its field vector, mm
	perTilt, perComa float64

	current wander  // the slowest of all
	lean    float64 // its effect on the shadow, waves RMS of coma; 0 for none
}

func newAir(n Night) *air {
	a := &air{slow: n.Sky.Slow}
	t, r0 := n.Telescope, n.Sky.Fried()
	if !math.IsInf(r0, 1) {
		a.strength = math.Pow(t.Aperture/r0, 5.0/6)
	}
	// Z2 = 2 rho cos phi: one wave of it is a slope of 2 waves per radius, which
	// moves the star by 2 F times that.
	a.perTilt = 4 * t.FocalRatio() * optics.Wavelength
	// Z8 is sqrt(8) 3 rho^3 cos phi beside its tilt.
	a.perComa = 3 * math.Sqrt(8) / t.Coma(1)
	if n.Sky.Current > 0 {
		a.current, a.lean = newWander(chance(n.Seed, currentStream), n.Sky.CurrentTau, 0), n.Sky.Current/a.perComa
	}
	r := chance(n.Seed, airStream)
	cross := t.Aperture / 1000 // seconds for 1 m/s to pass the mirror
	for i := range a.fast {
		// Higher terms are smaller and pass sooner.
		tau := [...]float64{2, 0.5, 0.4, 0.3, 0.3, 0.25, 0.25}[i]
		a.fast[i] = newWander(r, tau*cross/math.Max(n.Sky.Wind, 0.1), 0)
		a.lazy[i] = newWander(r, tau*cross/slowWind, 0)
	}
	return a
}

func (a *air) advance(dt float64) {
	if a.strength == 0 && a.lean == 0 {
		return
	}
	for i := range a.fast {
		f := r2.Scale(math.Sqrt(1-a.slow), a.fast[i].step(dt))
		v := r2.Add(f, r2.Scale(math.Sqrt(a.slow), a.lazy[i].step(dt)))
		for k, c := range [2]float64{v.X, v.Y} {
			j := 2*i + 2 + k
			a.waves[j] = a.strength * math.Sqrt(nollVariance(j)) / (2 * math.Pi) * c
		}
	}
	if a.lean > 0 {
		c := r2.Scale(a.lean, a.current.step(dt))
		a.waves[8], a.waves[7] = a.waves[8]+c.X, a.waves[7]+c.Y
	}
	a.moved = r2.Scale(a.perTilt, r2.Vec{X: a.waves[2], Y: a.waves[3]})
	a.leant = r2.Scale(a.perComa, r2.Vec{X: a.waves[8], Y: a.waves[7]})
}

// blur returns the standard deviation of the blur of an edge by the air, mm on the sensor:
// that of a Gaussian seeing disc of the given FWHM, without the image motion, which moves
// the whole ring.
func (n Night) blur() float64 {
	if n.Sky.Seeing <= 0 {
		return 0
	}
	whole := n.Telescope.FocalLength * n.Sky.Seeing * arcsec / 2.3548
	motion := n.Telescope.FocalLength * n.Telescope.ImageMotion(optics.FriedParameter(n.Sky.Seeing*arcsec))
	return math.Sqrt(math.Max(whole*whole-motion*motion, 0.01*whole*whole))
}

// wave is the wavefront of the air, waves at 550 nm.
func (a *air) wave(x, y float64) float64 {
	var w float64
	for j := 2; j <= lastTerm; j++ {
		w += a.waves[j] * zernike(j, x, y)
	}
	return w
}
