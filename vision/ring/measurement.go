// Package ring measures a defocused star: the ring, the secondary's shadow in
// it, and how far the shadow leans.
package ring

import "gonum.org/v1/gonum/spatial/r2"

// Circle is a circle in frame pixels; (0, 0) is the centre of the first pixel.
type Circle struct {
	X, Y, Radius float64
}

// Why says why there is no measurement. The empty Why means that there is one.
type Why string

// The reasons for having nothing to say. Other programs read them.
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

// Flag is a remark on a measurement that stands.
type Flag string

// The remarks. Other programs read them.
const (
	OneSide      Flag = "one-side"           // the silhouette cannot be told from coma
	SomeClipped  Flag = "clipped"            // part of the ring is burnt out
	PartOff      Flag = "edge"               // part of the ring is off the frame
	SmallRing    Flag = "small-ring"         // too little defocus for the best accuracy
	PixelGuessed Flag = "pixel-size-assumed" // waves rest on an assumed pixel size
)

// Measurement is what one frame says.
type Measurement struct {
	Found bool
	Why   Why // set exactly where Found is false

	Ring   Circle // outer edge, geometric: radius |z| / 2F
	Shadow Circle // the secondary's silhouette, geometric

	// Offset is shadow centre minus ring centre, px, and Sigma its standard
	// deviation per axis, px, from the light alone (not the air).
	Offset, Sigma r2.Vec

	// Coma is the part of Offset that the ring's brightness and fringes say is
	// coma, px; the rest is the silhouette's. It trusts the mirror to be lit
	// evenly. Split tells whether it is known: Measure finds it, Track does not.
	Coma  r2.Vec
	Split bool

	// Level is the ring's mean brightness over the sky as a fraction of the
	// clipping level, 0 to 1; 0 where that level is unknown. Clipped is the
	// fraction of the ring's pixels that are burnt out.
	Level, Clipped float64

	// Star is the best guess of where the star is even where no ring could be
	// measured (Seen true): the centroid of its light, px.
	Star r2.Vec
	Seen bool

	Flags []Flag
}
