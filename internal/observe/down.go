package observe

import "gonum.org/v1/gonum/spatial/r2"

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
