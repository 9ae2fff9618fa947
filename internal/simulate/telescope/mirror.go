package telescope

import "gonum.org/v1/gonum/spatial/r2"

// Mirror is the error of the primary's figure: waves RMS at 550 nm over the whole
// aperture. A mirror pinched in its cell is astigmatic, one that still cools down has
// spherical aberration (common practice, no source).
type Mirror struct {
	// Astigmatism is of Noll's terms 6 (X: x^2 - y^2) and 5 (Y: 2 x y) in the
	// frame's axes.
	Astigmatism r2.Vec
	Spherical   float64 // of term 11
}

// wave returns the error at (x, y) in the pupil, waves.
func (m Mirror) wave(x, y float64) float64 {
	if m == (Mirror{}) {
		return 0
	}
	return m.Astigmatism.X*zernike(6, x, y) + m.Astigmatism.Y*zernike(5, x, y) + m.Spherical*zernike(11, x, y)
}

// and returns the Zernike terms of mirror and air together.
func (m Mirror) and(a *air) [lastTerm + 1]float64 {
	w := a.waves
	w[6] += m.Astigmatism.X
	w[5] += m.Astigmatism.Y
	w[11] += m.Spherical
	return w
}
