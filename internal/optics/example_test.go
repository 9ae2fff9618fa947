package optics_test

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// How far the axis point may be from the middle of the field, and what the ring of a
// defocused star shows of it there.
func ExampleTelescope() {
	t := optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}
	fmt.Printf("F/%.0f, tolerance %.2f mm\n", t.FocalRatio(), t.Tolerance())

	h := t.Tolerance()
	fmt.Printf("there: coma %.3f waves RMS, Strehl ratio %.2f\n", t.ComaRMS(h), optics.Strehl(t.ComaRMS(h)))

	axis := r2.Vec{X: 2} // 2 mm to the right of the star
	offset := t.Offset(r2.Vec{}, axis, r2.Vec{}, t.Defocus(0.3))
	fmt.Printf("the shadow leans toward the axis point: %.1f um\n", 1000*offset.X)
	fmt.Printf("so the axis point is at %.1f mm\n", t.AxisPoint(r2.Vec{}, offset).X)
	// Output:
	// F/5, tolerance 1.39 mm
	// there: coma 0.076 waves RMS, Strehl ratio 0.80
	// the shadow leans toward the axis point: 14.1 um
	// so the axis point is at 2.0 mm
}

// One side of focus cannot tell coma from a secondary that is off the middle; both
// sides can. All lengths in ring radii: coma stays, what the silhouette does turns round.
func ExamplePair() {
	inside, outside := r2.Vec{X: 0.07}, r2.Vec{X: 0.01}
	coma, silhouette := optics.Pair(inside, outside, 1, 1)
	fmt.Printf("coma %.2f, silhouette %.2f\n", coma.X, silhouette.X)
	// Output:
	// coma 0.04, silhouette 0.03
}
