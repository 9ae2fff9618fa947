// Package platescale gets a camera's plate scale, and where west lies on its frame,
// from how a star drifts through the frame while the telescope stands still.
//
// Positions are frame pixels, x to the right and y down; times are seconds.
package platescale

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/sky"
)

// arcsecPerRadian is 180 * 3600 / pi.
const arcsecPerRadian = 180 * 3600 / math.Pi

// Rate returns the drift, arcsec per second, of a star at a declination (of the
// date), degrees, -90 to 90.
func Rate(declinationDeg float64) float64 {
	return sky.SiderealRate * math.Cos(declinationDeg*math.Pi/180)
}

// Point is where the star stood at a time.
type Point struct {
	T  float64 // s
	At r2.Vec  // px
}

// Line is the steady motion through a run of points.
type Line struct {
	Velocity r2.Vec  // px per second
	Sigma    float64 // standard deviation of the velocity, px per second per axis
	RMS      float64 // scatter of the points that count, px per axis
	Used, Of int     // points that count, of those given
	Seconds  float64 // from the first point to the last
}

// declinationSigma is the assumed error of a declination, degrees (judgement). It matters
// near the pole, where the drift depends most on it.
const declinationSigma = 0.01

// Result is what a drift says.
type Result struct {
	Line
	ArcsecPerPX float64 // plate scale
	Sigma       float64 // its standard deviation, arcsec per px
	West        r2.Vec  // unit vector toward west on the frame
	WestSigma   float64 // degrees
}

// Stretch is the speed of the measured point over that of the star: coma grows with the
// field, and moves all light away from the axis.
type Stretch struct {
	Factor float64 // 1 for no coma
	Sigma  float64 // of the factor
}

// OfRing is the stretch of the centre of a defocused star's outline in a Newtonian
// of focal ratio F: 1 + 3 / 16F^2, for the outline stands 3 h / 16F^2 from the chief
// ray at a field h (traced; 0.8 per cent at F/5).
func OfRing(f float64) Stretch { return Stretch{Factor: 1 + 3/(16*f*f)} }

// ofLight is the stretch of the centroid of all of a star's light, for an
// obstruction eps: 1 + (1 + eps^2) / 16F^2 (traced).
func ofLight(f, eps float64) Stretch { return Stretch{Factor: 1 + (1+eps*eps)/(16*f*f)} }

// unknown is used where the telescope is not known: that of F/5, with half a per cent of
// error, which covers every focal ratio from 4 up.
func unknown() Stretch { return Stretch{Factor: 1.004, Sigma: 0.005} }

// Measure turns a run of positions of a star at a declination, degrees, into the
// plate scale. Its errors tell a person what to do differently.
func Measure(points []Point, declinationDeg float64, s Stretch) (Result, error) {
	var r Result
	if !(math.Abs(declinationDeg) < 89.9) {
		return r, fmt.Errorf("a star at declination %g hardly drifts; take one nearer the equator", declinationDeg)
	}
	var err error
	if r.Line, err = Fit(points); err != nil {
		return r, err
	}
	speed := r2.Norm(r.Velocity)
	r.ArcsecPerPX = Rate(declinationDeg) / speed * s.Factor
	r.West = r2.Scale(1/speed, r.Velocity)
	chart := math.Tan(declinationDeg*math.Pi/180) * declinationSigma * math.Pi / 180
	relative := math.Hypot(math.Hypot(r.Line.Sigma/speed, chart), s.Sigma/s.Factor)
	r.Sigma = r.ArcsecPerPX * relative
	r.WestSigma = r.Line.Sigma / speed * 180 / math.Pi
	return r, nil
}

// PixelUM returns the side of a pixel, micrometres, at the focus of a telescope
// of the given focal length, mm.
func (r Result) PixelUM(focalLengthMM float64) float64 {
	return r.ArcsecPerPX / arcsecPerRadian * focalLengthMM * 1000
}

// FocalLengthMM returns the focal length, mm, at which the camera with its own
// lens, Barlow or eyepiece works, given the true side of its pixels, micrometres.
func (r Result) FocalLengthMM(pixelUM float64) float64 {
	return pixelUM / 1000 * arcsecPerRadian / r.ArcsecPerPX
}

// WestDeg returns the direction of west, degrees from the frame's right,
// clockwise as it is seen, -180 to 180.
func (r Result) WestDeg() float64 { return math.Atan2(r.West.Y, r.West.X) * 180 / math.Pi }

// WestHour returns the direction of west as an hour of a clock laid on the frame,
// 1 to 12.
func (r Result) WestHour() int {
	h := int(math.Round(r.WestDeg()/30)) + 3
	return (h+23)%12 + 1
}

// What a run of positions can lack.
var (
	ErrFew      = errors.New("the star was seen too seldom; put a bright star where it can drift right across the frame, and begin again")
	ErrStill    = errors.New("the star does not drift; switch the mount's tracking off, and begin again")
	ErrUnsteady = errors.New("the star did not drift evenly; was the mount still tracking, or the tube touched? Switch tracking off, keep the hands off, and begin again")
)
