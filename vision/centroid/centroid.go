// Package centroid finds the place of a spot of light to a fraction of a pixel, from a
// rough place.
package centroid

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// rounds is how often the window is moved to the spot: more than it takes to come to
// rest (judgement).
const rounds = 6

// Refine returns the centroid, px, of the light within half px of near, above the
// light around it. Edge reports that the window reaches beyond the frame, where
// the spot may be cut off; ok is false where nothing is brighter than its surroundings.
func Refine(f *frame.Frame, near r2.Vec, half float64) (at r2.Vec, edge, ok bool) {
	at = near
	for range rounds {
		x0, x1 := int(math.Round(at.X-half)), int(math.Round(at.X+half))
		y0, y1 := int(math.Round(at.Y-half)), int(math.Round(at.Y+half))
		if x0 < 0 || y0 < 0 || x1 >= f.Width || y1 >= f.Height {
			return at, true, false
		}
		next, found := ofWindow(f, x0, y0, x1, y1)
		if !found {
			return at, false, false
		}
		step := r2.Norm(r2.Sub(next, at))
		at = next
		if step < 1e-3 {
			break
		}
	}
	return at, false, true
}

// ofWindow weights the pixels of a window by their light above the rim's. A pixel that
// is not well above the rim's scatter has no weight: the noise of the many pixels far
// out would pull the centroid to the window's middle.
func ofWindow(f *frame.Frame, x0, y0, x1, y1 int) (r2.Vec, bool) {
	var rim []float64
	top := 0.0
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			v := float64(f.Pix[y*f.Width+x])
			top = max(top, v)
			if x == x0 || x == x1 || y == y0 || y == y1 {
				rim = append(rim, v)
			}
		}
	}
	sky := robust.Median(rim)
	noise := robust.Quickselect(rim, len(rim)*84/100) - sky
	floor := sky + max(4*noise, 0.1*(top-sky), 1)
	var sum r2.Vec
	light := 0.0
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			if v := float64(f.Pix[y*f.Width+x]); v > floor {
				sum = r2.Add(sum, r2.Scale(v-sky, r2.Vec{X: float64(x), Y: float64(y)}))
				light += v - sky
			}
		}
	}
	if light <= 0 {
		return r2.Vec{}, false
	}
	return r2.Scale(1/light, sum), true
}
