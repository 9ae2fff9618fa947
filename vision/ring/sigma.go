package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// What an outline may be off by beside the scatter of its points, ring radii.
// Found by cutting, dimming and brightening frames of known truth
// (TestChangedFramesNeverMislead).
const (
	rayShare   = 2     // neighbouring rays share pixels and fringes: one in two tells something new
	trackFloor = 0.001 // what the correction may leave, where nothing is wrong

	burntFloor = 0.0005 // the same, where the ring is burnt out
	burntGuess = 0.15   // of the offset, where the ring is burnt out and the secondary's size is a guess
	burntWings = 0.30   // over N^1.5, where the ring is burnt out: spectrum and blur decide what its wings are like
	burntPart  = 0.014  // where hardly half of it is: an edge in one place, none in another

	cutShare    = 0.012 // times the part that is off the frame: the correction is that of a whole ring
	shadowShare = 0.6   // of how much the shadow's size is not the secondary's
)

// outlineSigma returns the standard deviation per axis, px, of a corrected
// outline's offset.
func (m *Meter) outlineSigma(o *outline, offset r2.Vec) float64 {
	r := o.outer.Radius
	sd := math.Hypot(o.outerNoise, o.innerNoise)
	if o.offFrame > 0.02 { // where a part is missing, shape moves the centre too
		sd = o.loose * math.Sqrt(rayShare*2/float64(rays)*
			(sq(o.outerSpread)/max(o.outerSeen, 0.1)+sq(o.innerSpread)/max(o.innerSeen, 0.1)))
	}
	add := func(radii float64) { sd = math.Hypot(sd, radii*r) }
	if o.clipped > burntOut {
		add(burntFloor)
	} else {
		add(trackFloor)
	}
	add(cutShare * o.loose * o.offFrame)
	if o.clipped > someBurnt {
		add(burntWings / math.Pow(m.fresnelPerPx()*r, 1.5))
		add(burntPart * sq(1-o.clipped))
	}
	if o.clipped > burntOut && m.cfg.Telescope.Secondary <= 0 {
		add(burntGuess * r2.Norm(offset) / r)
	}
	if m.cfg.Telescope.Secondary > 0 {
		if wrong := math.Abs(o.inner.Radius/r - m.eps); wrong > shadowOff {
			add(shadowShare * wrong)
		}
	}
	return sd
}

const (
	someBurnt = 0.01 // of a ring, from which it counts
	shadowOff = 0.03 // ring radii: what air and fringes do to a shadow's size
)
