package run

import (
	"math"

	"halocue/internal/observe"
)

// dew watches the ring grow dim and soft: its light, level times area, is the same
// whatever the defocus, and the softness of its outer edge hardly depends on it. Both
// are compared with the best that was seen tonight.
type dew struct {
	light, soft float64 // averages, soft in px
	most, least float64
	frames      int
	t           float64
	told        bool
}

const (
	dewSlow  = 6.0 // seconds over which is averaged
	dewFirst = 50  // frames before anything is compared
	// In air of 2 arcsec the light keeps within 3 % and the softness within 30 % (go test
	// ./internal/run -run DewOnAGoodNight -v); the limits are judgement.
	dewDim, dewSoft = 0.6, 1.5
	// dewBlind is the softness that counts without less light, because a camera that sets
	// its exposure by itself makes up for the light. Racking does not make that much.
	dewBlind = 3
)

// see takes in a sight, and reports whether dew is likely and whether that is news.
func (d *dew) see(s observe.Sight) (likely, news bool) {
	const burnt, black = 0.85, 0.005 // levels at which brightness tells nothing
	if !s.Found || s.Level > burnt || s.Level < black || s.Softness <= 0 {
		return d.told, false
	}
	light, soft := s.Level*s.Radius*s.Radius, s.Softness
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
	softer := d.soft / d.least
	likely = d.light < dewDim*d.most && softer > dewSoft || softer > dewBlind
	news = likely != d.told
	d.told = likely
	return likely, news
}
