package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Errors of an outline besides the scatter of its points.
const (
	rayShare     = 2     // neighbouring rays share pixels and fringes: two are worth one (judgement)
	interpolated = 0.004 // px: what reading edges between pixels does, a twentieth of one on each of 180 rays (judgement)
	zoneShare    = 0.5   // of the shift of an edge by diffraction: the calculated shift is not exact, since colours, contrast and the mirror's figure change it (judgement)
	fringeless   = 2.5   // ring radii, over N^2: where there is hardly a fringe between the edges they run into each other (judgement)
	burntGuess   = 0.15  // of the offset, where the ring is burnt out and the secondary's size is a guess (judgement)
	someBurnt    = 0.01  // of a ring, from which it is remarked
)

// outlineSigma returns the standard deviation per axis, px, of a corrected
// outline's offset.
func (m *Meter) outlineSigma(o *outline, offset r2.Vec) float64 {
	r := o.outer.Radius
	sd := math.Hypot(o.outerNoise, o.innerNoise)
	if o.offFrame > 0.02 { // where a part is missing, shape moves the centre too
		sd = o.arcDilution * math.Sqrt(rayShare*2/float64(rays)*
			(sq(o.outerSpread)/max(o.outerSeen, 0.1)+sq(o.innerSpread)/max(o.innerSeen, 0.1)))
	}
	add := func(radii float64) { sd = math.Hypot(sd, radii*r) }
	add(interpolated / r)
	add(fringeless / sq(m.fresnelPerPx()*r))
	// An edge that belongs to another zone rho of the mirror than assumed has another
	// offset, in proportion to rho^2 - eps^2; the correction has that error too.
	eps := o.inner.Radius / r
	add(zoneShare * 2 * m.inside(r) / (1 - eps*eps) * r2.Norm(offset) / r)
	add(zoneShare * math.Abs(m.bias.add.of) * r2.Norm(offset) / r)
	if o.clipped > burntOut && m.cfg.Telescope.Secondary <= 0 {
		add(burntGuess * r2.Norm(offset) / r)
	}
	return sd
}
