// Package coach holds what the coach by night and the coach by day have in common; each
// is a package of its own below this one.
package coach

import (
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/estimate"
	"halocue/internal/hands"
)

// Memory is what one night teaches the next. Lengths mm on the sensor.
type Memory struct {
	estimate.KnobMemory
	Reaction       float64         // seconds from the words to the move, of hands at work
	Reactions      hands.Reactions // of hands that have to begin
	Heard          []string        // the kinds of cues that the person has heard in full
	Unhurried      float64         // times the usual patience, as the person asked for it; 0 is 1
	Secondary      float64         // its diameter over the aperture's, as the star showed it, and
	SecondarySigma float64         // its one-sigma; 0 and 0 unknown
	Holds          bool            // the focuser: a side of focus that was seen again was as before
	Turned         [3]float64      // that night, turns of each knob as the star told them, > 0 tightened
	Axis           *r2.Vec         // the axis point relative to the target at the last proof, or nil
}
