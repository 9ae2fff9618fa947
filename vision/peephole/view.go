// Package peephole measures the view by day down a Newtonian's tube, from a
// peephole in a plug in the focuser: the nested outlines of focuser, secondary
// and main mirror, the ring mark stuck on the mirror's centre, and the dark
// reflection of the peephole itself.
//
// Lengths are frame pixels, x right, y down, (0, 0) the centre of the first pixel.
package peephole

import "gonum.org/v1/gonum/spatial/r2"

// Circle is an outline. Sigma is the one-sigma of its centre, per axis, from the
// scatter of the edge points about it; Seen is the share of it that was found.
type Circle struct {
	Centre        r2.Vec
	Radius, Sigma float64
	Seen          float64
}

// Why says why there is no measurement.
type Why string

// The reasons.
const (
	Dark        Why = "dark"         // too little light to see anything by
	TooBright   Why = "too-bright"   // the frame is flooded with light
	NoMirror    Why = "no-mirror"    // nothing like the outline of the main mirror
	NoSecondary Why = "no-secondary" // the main mirror is there, the secondary's outline is not
)

// directions is the number of directions in View.Around.
const directions = 72

// View is what one frame shows.
type View struct {
	Found bool
	Why   Why // set exactly where Found is false

	Primary, Secondary Circle
	Focuser            Circle // inner edge of its tube; the zero Circle where it is not seen
	Whole              bool   // the mirror's whole outline is in sight

	Marked    bool    // the mark was found
	Mark      r2.Vec  // its centre
	MarkPX    float64 // its outer radius
	Reflected bool    // the dark spot was found
	Spot      r2.Vec  // its centre
	SpotPX    float64 // its radius
	Sigma     float64 // one-sigma of Spot minus Mark, per axis

	// Around is the brightness about the secondary in each direction, clockwise
	// from the frame's x axis: it shows how the camera is turned. -1 where unseen.
	Around [directions]float64

	hole float64 // radius of the hole in the mark

	Level float64 // brightness of the mirror as a fraction of clipping, 0 unknown
}

// Config is what is known of the telescope.
type Config struct {
	Aperture float64 // of the main mirror, mm
}
