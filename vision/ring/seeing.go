package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat"

	"halocue/internal/optics"
)

// Seeing is the air, estimated from the motion and the deformation of the ring from frame
// to frame.
type Seeing struct {
	R0, Sigma       float64 // Fried parameter at 550 nm, mm, and its one-sigma
	Shaken          bool    // the ring moves more than such air would make it: wind, or the mount
	Autocorrelation float64 // correlation of the lean in neighbouring frames, 0 to 0.9
	OffsetScatter   float64 // scatter of the lean by the air, px per axis
}

// seeingFrom is the least number of frames from which the air is estimated.
const seeingFrom = 8

// The RMS of a fitted coma and astigmatism over that of the air's Zernike term. It is not
// 1, because the outline also follows higher terms of the same symmetry, and the fit
// smooths the slopes. Measured on phase screens of known r0 (go test ./vision/ring -run
// SeeingOfKnownAir -v).
const (
	leanShare        = 0.95
	astigmatismShare = 0.77
)

// SeeingOf estimates the air from short exposures of one pointing in the order in
// which they were taken: measurements, and their figures, which may be missing
// (nil) or not known (Fresnel 0). A steady drift of the star is taken out.
// Variances per axis, in (D/r0)^(5/3): coma 0.00619 and astigmatism 0.02322 rad^2
// (Noll 1976, Table IV), motion 0.182 (lambda/D)^2 (from Noll's tilt). ok is false
// where there are too few frames, or less air than the light can show.
func SeeingOf(t optics.Telescope, pixelMM float64, ms []Measurement, figures []Figure) (s Seeing, ok bool) {
	var lean, astigmatism, place [2][]float64
	var leanLight, astigmatismLight float64
	for i, m := range ms {
		if !m.Found {
			continue
		}
		push(&lean, m.Offset)
		push(&place, r2.Vec{X: m.Ring.X, Y: m.Ring.Y})
		leanLight += (sq(m.NoiseSigma.X) + sq(m.NoiseSigma.Y)) / 2
		if figures != nil && figures[i].Fresnel > 0 {
			g, r := figures[i], m.Ring.Radius
			push(&astigmatism, r2.Vec{X: g.AstigmatismWaves(g.Astigmatism.X, r), Y: g.AstigmatismWaves(g.Astigmatism.Y, r)})
			astigmatismLight += sq(g.AstigmatismWaves(r2.Norm(g.AstigmatismSigma), r)) / 2
		}
	}
	n := float64(len(lean[0]))
	if n < seeingFrom {
		return s, false
	}
	s.Autocorrelation = min(max((serial(lean[0])+serial(lean[1]))/2, 0), 0.9)
	free := n*(1-s.Autocorrelation)/(1+s.Autocorrelation) - 1 // independent frames, less their mean
	if free < 2 {
		return s, false
	}
	// The offset of one tolerance is ToleranceRMS waves of coma.
	perWave := t.Tolerance() * t.OffsetPerField() / pixelMM / optics.ToleranceRMS
	air := scatter2(lean) - leanLight/n
	s.OffsetScatter = math.Sqrt(max(air, 0))
	u := air / sq(leanShare*perWave) * sq(2*math.Pi) / 0.00619
	terms := 2.0
	if len(astigmatism[0]) == len(lean[0]) {
		// The light's own share is small, and its sigma includes a part of the air's effect on
		// the fit: half of it is subtracted (judgement).
		v := scatter2(astigmatism) - astigmatismLight/n/2
		u = (u + v/sq(astigmatismShare)*sq(2*math.Pi)/0.02322) / 2
		terms += 2
	}
	if !(u > 0) || air < 2*leanLight/n {
		return s, false
	}
	straighten(&place)
	motion := scatter2(place) * sq(pixelMM*t.Aperture/(t.FocalLength*optics.Wavelength)) / 0.182
	if motion > u*(1+3*math.Sqrt(2/(terms*free)+1/free)) {
		s.Shaken = true
	} else {
		u = (terms*u + 2*motion) / (terms + 2)
		terms += 2
	}
	s.R0 = fried(t, u)
	s.Sigma = s.R0 * 0.6 * math.Sqrt(2/(terms*free))
	return s, true
}

// fried returns r0 for u = (D/r0)^(5/3).
func fried(t optics.Telescope, u float64) float64 { return t.Aperture * math.Pow(u, -0.6) }

// FWHM returns the long-exposure seeing, arcsec: 0.98 lambda / r0.
func (s Seeing) FWHM() float64 { return 0.98 * optics.Wavelength / s.R0 * 180 * 3600 / math.Pi }

// Frames returns the number of such frames whose mean has an error by the air, RMS, of the
// given part of the tolerance, which is allowed px.
func (s Seeing) Frames(allowed, part float64) int {
	one := math.Sqrt2 * s.OffsetScatter / (part * allowed)
	return int(math.Ceil(one * one * (1 + s.Autocorrelation) / (1 - s.Autocorrelation)))
}

func push(to *[2][]float64, v r2.Vec) { to[0], to[1] = append(to[0], v.X), append(to[1], v.Y) }

// scatter2 returns the variance per axis.
func scatter2(v [2][]float64) float64 {
	return (stat.Variance(v[0], nil) + stat.Variance(v[1], nil)) / 2
}

// serial returns the correlation of neighbours.
func serial(v []float64) float64 { return stat.Correlation(v[1:], v[:len(v)-1], nil) }

// straighten subtracts a steady drift.
func straighten(v *[2][]float64) {
	at := make([]float64, len(v[0]))
	for i := range at {
		at[i] = float64(i)
	}
	for axis := range v {
		from, slope := stat.LinearRegression(at, v[axis], nil, false)
		for i := range at {
			v[axis][i] -= from + slope*at[i]
		}
	}
}
