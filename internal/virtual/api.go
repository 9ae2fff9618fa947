// Package virtual is the telescope, the sky and the hands that never were: it
// draws what a camera would see, from physical optics, and turns its knobs when
// it is told to. Everything is seeded; the same seed is the same night.
package virtual

import "gonum.org/v1/gonum/spatial/r2"

// Knob is one of the three adjusters of the primary.
type Knob struct {
	Name  string
	Clock float64 // position as seen from behind the mirror, hours, 12 at the top
}

// Truth is what the virtual telescope knows and the coach must find. Lengths mm
// on the sensor, in the frame's own axes (x right, y down), from its centre.
type Truth struct {
	Axis, Star r2.Vec
	Z          float64   // signed defocus, > 0 outside
	Silhouette r2.Vec    // c, mm in the pupil
	Turns      []float64 // of each knob since the start, > 0 tightened
	Locks      []float64 // 0 loose to 1 snug
}

// Instruction is what the hands hear: the fields of a say event and nothing else.
type Instruction struct {
	Action, Knob, Direction string
	Turns                   float64
	Begin, End              float64 // seconds: first and last sample of the words
}
