// Package ring measures a defocused star: the ring, the secondary's shadow in it, and the
// offset of the shadow from the ring's centre.
package ring

import (
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// Circle is a circle in frame pixels; (0, 0) is the centre of the first pixel.
type Circle = robust.Circle

// Why says why there is no measurement. The empty Why means that there is one.
type Why string

// The reasons. Other programs read them.
const (
	Dark      Why = "dark"       // no light in the frame
	TooBright Why = "too-bright" // the whole frame is flooded: daylight, the Sun, a lamp
	NoRing    Why = "no-ring"    // light, but nothing like a ring
	Focused   Why = "focused"    // a star, too near focus to show a ring
	NoShadow  Why = "no-shadow"  // a disc without the secondary's shadow
	CutOff    Why = "cut-off"    // too much of the ring is off the frame
	Clipped   Why = "clipped"    // the ring is burnt out: no edge can be trusted
	Faint     Why = "faint"      // too little light over the noise
	Blurred   Why = "blurred"    // smeared: shake, trail or dew
	TwoStars  Why = "two-stars"  // two rings run into each other
)

// Flag is a remark on a valid measurement.
type Flag string

// The remarks. Other programs read them.
const (
	OneSide      Flag = "one-side"           // the silhouette cannot be told from coma
	SomeClipped  Flag = "clipped"            // part of the ring is burnt out
	PartOff      Flag = "edge"               // part of the ring is off the frame
	SmallRing    Flag = "small-ring"         // too little defocus for the best accuracy
	PixelGuessed Flag = "pixel-size-assumed" // waves rest on an assumed pixel size
	PixelWrong   Flag = "pixel-size-wrong"   // the fringes contradict the pixel size that was told, and theirs is used
)

// Measurement is what one frame says.
type Measurement struct {
	Found bool
	Why   Why // set exactly where Found is false

	Ring   Circle // outer edge, geometric: radius |z| / 2F
	Shadow Circle // the secondary's silhouette, geometric

	// Offset is shadow centre minus ring centre, px. Sigma is its standard deviation per
	// axis, px, from everything that this one picture shows: noise, a deformed edge, a
	// telescope that differs from the model. NoiseSigma is the part of Sigma that comes from
	// the noise of the light and differs from frame to frame. The air's own coma in one
	// exposure is in neither.
	Offset, Sigma, NoiseSigma r2.Vec

	// Coma is the part of Offset that is coma by the ring's brightness and fringes, px;
	// the rest is the silhouette's. It assumes an evenly bright mirror. Split reports
	// whether it is known: Measure finds it, Track does not.
	Coma  r2.Vec
	Split bool

	// Obstruction is the secondary's diameter over the aperture's as the star shows
	// it, and ObstructionSigma its one-sigma.
	Obstruction, ObstructionSigma float64

	// PixelMM is the size of a pixel that the measurement uses: as told, by the width of
	// the fringes, or assumed. PixelSigma is its relative one-sigma by the fringes; 0
	// where they do not show it.
	PixelMM, PixelSigma float64

	// Level is the ring's mean brightness over the sky as a fraction of the
	// clipping level, 0 to 1; 0 where that level is unknown. Clipped is the
	// fraction of the ring's pixels that are burnt out.
	Level, Clipped float64

	// Softness is the distance in which the ring's outer edge falls from half of the light
	// beside it to a quarter, px, the median of its rays. Shake, air, dew and diffraction
	// make it larger. 0 where it is not known.
	Softness float64

	// Star is the best guess of where the star is even where no ring could be
	// measured (Seen true): the centroid of its light, px.
	Star r2.Vec
	Seen bool

	Flags []Flag
}
