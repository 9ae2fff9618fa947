// Package telescope simulates a Newtonian with its sky, its camera and a person's hands:
// it draws what a camera would see, by physical optics, and the hands do what they are
// told. All chance has a seed: the same seed is the same night.
package telescope

import "gonum.org/v1/gonum/spatial/r2"

// Truth is the true state, which the coach must find. Lengths are mm on the sensor, in the
// frame's own axes (x right, y down), from its centre.
type Truth struct {
	Axis, Star r2.Vec    // with the drawtube at its mean place
	Sag        r2.Vec    // what its sag adds to both
	Z          float64   // signed defocus, > 0 outside
	Silhouette r2.Vec    // c, mm in the pupil
	Turns      []float64 // of each knob since the start, > 0 tightened
	Locks      []float64 // 0 loose to 1 snug
}
