package guide

import (
	"math"

	"halocue/internal/coach"
)

// dew watches the ring grow dim and soft. Its light, level times area, is the same
// whatever the defocus, and so is the softness of its edges: the photons' sigma
// grows with the root of softness over light (reference value: sigma^2 = k s R / N).
// Both are compared with the best that was seen tonight.
type dew struct {
	light, soft float64 // averages, the second of a logarithm
	most, least float64
	frames      int
	t           float64
	told        bool
}

const (
	dewSlow  = 6.0 // seconds over which is averaged
	dewFirst = 50  // frames before anything is compared
	// On good nights the light keeps within 3 % and the softness within a factor of
	// 5 (four nights of guide --camera virtual, 500 measurements each).
	dewDim, dewSoft = 0.6, 2.5
	// dewBlind is the softness that is believed alone, for a camera that sets its
	// exposure by itself makes up for the light.
	dewBlind = 20
)

// see takes in a sight, and tells whether dew is likely and whether that is news.
func (d *dew) see(s coach.Sight) (likely, news bool) {
	const burnt, black = 0.85, 0.005 // levels at which brightness tells nothing
	sigma2 := s.Sigma.X*s.Sigma.X + s.Sigma.Y*s.Sigma.Y
	if !s.Found || s.Level > burnt || s.Level < black || sigma2 <= 0 {
		return d.told, false
	}
	light, soft := s.Level*s.Radius*s.Radius, math.Log(sigma2*s.Level*s.Radius)
	a := 1 - math.Exp(-math.Min(s.T-d.t, 0.5)/dewSlow)
	if d.frames == 0 {
		a = 1
	}
	d.t = s.T
	d.light += a * (light - d.light)
	d.soft += a * (soft - d.soft)
	if d.frames++; d.frames < dewFirst {
		d.most, d.least = d.light, d.soft
		return false, false
	}
	d.most, d.least = math.Max(d.most, d.light), math.Min(d.least, d.soft)
	softer := math.Exp(d.soft - d.least)
	likely = d.light < dewDim*d.most && softer > dewSoft || softer > dewBlind
	news = likely != d.told
	d.told = likely
	return likely, news
}
