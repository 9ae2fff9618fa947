// Package observe holds what an eye saw at a time: one type for whoever measures a star
// or looks down the tube, and for whoever decides by it.
package observe

import "gonum.org/v1/gonum/spatial/r2"

// Sight is what one frame told. Lengths are frame pixels, x right, y down, (0, 0)
// the centre of the first pixel.
type Sight struct {
	T             float64 // seconds since the start; never less than the one before
	Width, Height int     // of the frame, px

	Found         bool    // a ring was measured; else Why says why not
	Why           string  // a ring.Why code
	Star          r2.Vec  // ring centre, or the star's light where only Seen is true
	Seen          bool    // some star is there, measured or not
	Radius        float64 // of the ring, geometric, px
	Shadow        float64 // radius of the shadow, px
	Offset, Sigma r2.Vec  // shadow minus ring centre, and its one-sigma from the light alone
	Level         float64 // ring brightness as a fraction of clipping, 0 unknown
	Clipped       float64 // fraction of the ring that is burnt out
	Softness      float64 // of the ring's outer edge, px, 0 unknown
	Flags         []string

	Facts *Facts // what a careful look at an earlier frame showed, once; else nil

	Down *Down // what a look down the tube by day showed; nil by night
}

// Facts is what a careful look at a star showed of the telescope and the camera.
type Facts struct {
	Secondary      float64 `json:"secondary"` // diameter over the aperture's, and its one-sigma; 0 is unknown
	SecondarySigma float64 `json:"secondary_sigma"`
	PixelMM        float64 `json:"pixel_mm"` // side of a pixel, mm, and its relative one-sigma; sigma 0: the fringes do not say
	PixelSigma     float64 `json:"pixel_sigma"`
}

// Down is what one frame told of a look by day down the tube, from a peephole in
// the focuser. Lengths are frame pixels.
type Down struct {
	Primary, Secondary             r2.Vec // middles of the outlines of the main mirror and of the secondary
	PrimaryRadius, SecondaryRadius float64
	Whole                          bool    // the mirror's whole outline is in sight
	OffSigma                       float64 // one-sigma of Primary minus Secondary, per axis
	Focuser                        r2.Vec  // middle of the focuser's opening
	FocuserRadius                  float64 // 0 where it is not seen

	Marked, Reflected bool    // the mark on the mirror's centre was found, and the dark reflection of the peephole
	Mark, Spot        r2.Vec  // their middles
	SpotSigma         float64 // one-sigma of Spot minus Mark, per axis
	SpotRadius        float64

	// Around is the brightness about the secondary in each of as many directions,
	// clockwise from the frame's x axis; < 0 where it is out of sight. It tells how
	// the camera stands.
	Around []float64
}

// Unreadable is the Sight.Why of a frame that could not be read. The caller says
// so; it tells nothing of the star.
const Unreadable = "unreadable"

// TooBright is the Sight.Why of a frame that is flooded with light.
const TooBright = "too-bright"

// Flooded reports whether the frame is flooded with light, as it is near the Sun.
func (s Sight) Flooded() bool { return s.Why == TooBright }
