package ring

import (
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/centroid"
	"halocue/vision/frame"
)

// Spot returns where the light in the frame is, px, where it is no ring but a star near
// focus or a tool's spot.
func (m Measurement) Spot(f *frame.Frame) (r2.Vec, bool) {
	if !m.Seen || m.Why == CutOff {
		return r2.Vec{}, false
	}
	const half = 24 // px: a star near focus, with its seeing
	at, _, ok := centroid.Refine(f, m.Star, half)
	return at, ok
}
