// Package optics is the physics of a defocused star in a Newtonian reflector:
// pure functions of lengths, no pictures and no time.
//
// Conventions. Lengths are mm, on the sensor unless said otherwise; wavefronts
// are in waves at 550 nm; vectors lie in the sensor plane, x to the right and y
// down. z > 0 is outside focus (the sensor farther from the primary).
// The field vector h is star minus axis point. F is the focal ratio, eps the
// obstruction, secondary diameter over aperture.
//
// Every formula was checked against an exact ray trace; see trace_test.go.
package optics

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Wavelength is the reference wavelength, mm.
const Wavelength = 550e-6

// ToleranceRMS is the wavefront error that counts as diffraction limited,
// waves RMS: 1/sqrt(180), a Strehl ratio of 0.80.
const ToleranceRMS = 0.07453559924999299

// Telescope is a Newtonian reflector. All lengths in mm.
type Telescope struct {
	Aperture          float64 // diameter of the primary, > 0
	FocalLength       float64 // > 0
	Secondary         float64 // minor axis of the secondary; 0 is unknown
	SecondaryDistance float64 // from primary to secondary; 0 is unknown
}

// FocalRatio returns F = f / D.
func (t Telescope) FocalRatio() float64 { return t.FocalLength / t.Aperture }

// usualObstruction is assumed where the secondary's size is not known (common practice,
// no source).
const usualObstruction = 0.25

// UsualPixelMM is assumed where the size of a camera's pixel is not known, mm: common for
// small cameras (common practice, no source).
const UsualPixelMM = 0.00375

// Obstruction returns eps, 0 to 1: what the telescope says, or usualObstruction.
func (t Telescope) Obstruction() float64 {
	if t.Secondary <= 0 {
		return usualObstruction
	}
	return t.Secondary / t.Aperture
}

// SecondaryAt returns the distance from primary to secondary, mm: as given, or
// f - D/2 - 80 (a focal plane 80 mm outside the tube; common practice, no source).
func (t Telescope) SecondaryAt() float64 {
	if t.SecondaryDistance > 0 {
		return t.SecondaryDistance
	}
	return t.FocalLength - t.Aperture/2 - 80
}

// RingRadius returns the radius of the defocused star, mm, at defocus z mm:
// |z| / 2F. Good to 1 % for |z| up to 5 mm.
func (t Telescope) RingRadius(z float64) float64 { return math.Abs(z) / (2 * t.FocalRatio()) }

// Defocus returns |z|, mm, for a ring of the given radius, mm.
func (t Telescope) Defocus(radius float64) float64 { return 2 * t.FocalRatio() * radius }

// DefocusWaves returns W020 = z / 8F^2 in waves; it has the sign of z.
func (t Telescope) DefocusWaves(z float64) float64 {
	f := t.FocalRatio()
	return z / (8 * f * f) / Wavelength
}

// Coma returns the Seidel coefficient W131 = |h| / 32F^3 of a paraboloid, in
// waves, for a star h mm from the axis point. Schroeder, Astronomical Optics,
// ch. 5-6 (from memory); traced.
func (t Telescope) Coma(h float64) float64 {
	f := t.FocalRatio()
	return math.Abs(h) / (32 * f * f * f) / Wavelength
}

// ComaRMS returns the coma in waves RMS over the annular pupil, balanced with
// tilt, for a star h mm from the axis point (Mahajan 1994, Table 1).
func (t Telescope) ComaRMS(h float64) float64 {
	return t.Coma(h) * annularComaRMS(t.Obstruction())
}

// annularComaRMS returns RMS / W131 of coma balanced with tilt over an annulus
// of obstruction eps, 0 <= eps < 1; 1/sqrt(72) for eps = 0.
func annularComaRMS(eps float64) float64 {
	e2 := eps * eps
	return (1 - e2) * math.Sqrt((1+4*e2+e2*e2)/(72*(1+e2)))
}

// Tolerance returns the radius |h|, mm, of the field in which coma stays within
// ToleranceRMS: 0.0111 F^3 (telescope-optics.net, Newtonian off-axis
// aberrations, eq. 70.2). The obstruction changes it by less than 2 %.
func (t Telescope) Tolerance() float64 {
	f := t.FocalRatio()
	return 0.0111 * f * f * f
}

// Strehl returns the Strehl ratio for a wavefront error of rms waves, by
// Mahajan's exp(-(2 pi rms)^2); good to 0.1 % for rms <= 1/14.
func Strehl(rms float64) float64 {
	x := 2 * math.Pi * rms
	return math.Exp(-x * x)
}

// OffsetPerField returns K = 3 (1 - eps^2) / 16 F^2: how far coma moves the
// shadow's centre against the ring's, per mm of field, toward the axis point.
func (t Telescope) OffsetPerField() float64 {
	f, e := t.FocalRatio(), t.Obstruction()
	return 3 * (1 - e*e) / (16 * f * f)
}

// Silhouette returns where the secondary's silhouette falls in the pupil, mm off
// the centre of the primary: c = xSec - (dist/f) (2 axis - star), with axis and
// star in mm from the tube's axis and xSec the secondary's own offset, mm.
func (t Telescope) Silhouette(xSec, axis, star r2.Vec) r2.Vec {
	return r2.Sub(xSec, r2.Scale(t.SecondaryAt()/t.FocalLength, r2.Sub(r2.Scale(2, axis), star)))
}

// Offset returns the shadow's centre minus the ring's, mm, for a star and an
// axis point (mm), a silhouette c mm off centre in the pupil, and defocus z:
// -K (star - axis) - (z/f) c. Within 2 % of the exact trace for F/4 to F/8 and
// |z| up to 5 mm, while |z| > 3|h| / 4F (no caustic inside the ring).
func (t Telescope) Offset(star, axis, c r2.Vec, z float64) r2.Vec {
	coma := r2.Scale(-t.OffsetPerField(), r2.Sub(star, axis))
	return r2.Sub(coma, r2.Scale(z/t.FocalLength, c))
}

// AxisPoint returns the axis point, mm, that explains an offset, mm, which is
// coma alone: star + offset / K.
func (t Telescope) AxisPoint(star, comaOffset r2.Vec) r2.Vec {
	return r2.Add(star, r2.Scale(1/t.OffsetPerField(), comaOffset))
}

// Pair separates the part of the offset that changes its sign through focus from the part
// that does not, for an inside and an outside frame of one pointing: offsets and ring
// radii in one unit.
// It returns the coma part of the offset in that unit, and the silhouette's part
// delta in ring radii. The sum of the radii must be above 0.
func Pair(inside, outside r2.Vec, rIn, rOut float64) (coma, delta r2.Vec) {
	s := 1 / (rIn + rOut)
	coma = r2.Scale(s, r2.Add(r2.Scale(rOut, inside), r2.Scale(rIn, outside)))
	delta = r2.Scale(s, r2.Sub(inside, outside))
	return coma, delta
}

// BestDefocus returns the least |z|, mm, at which the shadow's edge is sharp
// enough for an outline to be true within 4 %: 20 F^2 lambda / eps^2.
func (t Telescope) BestDefocus() float64 {
	f, e := t.FocalRatio(), t.Obstruction()
	return 20 * f * f * Wavelength / (e * e)
}

// KnobTilt returns the tilt of the mirror, radians, by one knob turned forward
// by turns of the given pitch, mm, on a bolt circle of the given radius, mm:
// p t / 1.5 b, for three knobs 120 degrees apart.
func KnobTilt(turns, pitch, boltRadius float64) float64 { return pitch * turns / (1.5 * boltRadius) }

// AirComa returns the coma of the air itself in one short exposure, waves RMS
// per axis, for the Fried parameter r0, mm: variance 0.00619 (D/r0)^(5/3) rad^2
// per Zernike term (Noll 1976, Table IV).
func (t Telescope) AirComa(r0 float64) float64 {
	return math.Sqrt(0.00619*math.Pow(t.Aperture/r0, 5.0/3)) / (2 * math.Pi)
}

// ImageMotion returns the RMS motion of a star, radians per axis, for the Fried
// parameter r0, mm: variance 0.182 (D/r0)^(5/3) (lambda/D)^2 (from Noll's tilt).
func (t Telescope) ImageMotion(r0 float64) float64 {
	l := Wavelength / t.Aperture
	return math.Sqrt(0.182*math.Pow(t.Aperture/r0, 5.0/3)) * l
}

// FriedParameter returns r0, mm, for a long-exposure seeing of fwhm radians:
// 0.98 lambda / fwhm.
func FriedParameter(fwhm float64) float64 { return 0.98 * Wavelength / fwhm }
