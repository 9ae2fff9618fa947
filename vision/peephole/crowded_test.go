package peephole

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// A dark spot whose edge is near that of the paper before it is placed to a fifth of a pixel,
// and better than by its own edge alone: the picture is drawn by counting points, 25 in a pixel,
// and blurred by the mean of nine pixels.
func TestCrowdedSpotIsPlaced(t *testing.T) {
	const size = 120
	truth, paper := spot{at: r2.Vec{X: 60.3, Y: 50.7}, r: 14}, cover{at: r2.Vec{X: 60, Y: 50}, outer: 10, inner: 5}
	sharp := make([]float64, size*size)
	for y := range size {
		for x := range size {
			for k := range 25 {
				at := r2.Vec{X: float64(x) + float64(k%5-2)/5, Y: float64(y) + float64(k/5-2)/5}
				level := 100.0
				if r2.Norm(r2.Sub(at, truth.at)) < truth.r {
					level = 20
				}
				if r := r2.Norm(r2.Sub(at, paper.at)); r < paper.outer && r > paper.inner {
					level = 160
				}
				sharp[y*size+x] += level / 25
			}
		}
	}
	f := &frame.Frame{Width: size, Height: size, White: 255, Pix: make([]float32, size*size)}
	for y := 1; y < size-1; y++ {
		for x := 1; x < size-1; x++ {
			for k := range 9 {
				f.Pix[y*size+x] += float32(sharp[(y+k/3-1)*size+x+k%3-1] / 9)
			}
			f.Pix[y*size+x] += float32((x*7+y*13)%5-2) * 0.2 // a camera's noise, which is never 0
		}
	}
	start := spot{at: r2.Vec{X: 61, Y: 50.1}, r: 13.5, sigma: 0.3}
	if !paper.crowded(start) {
		t.Fatal("the edges are not near each other")
	}
	got := centreSearch{picture: newPicture(f), mm: 1.5}.together(start, paper)
	if off := r2.Norm(r2.Sub(got.at, truth.at)); off > 0.2 || math.Abs(got.r-truth.r) > 0.3 || got.sigma > 0.6 {
		t.Errorf("%.2f px off, radius %.2f, sigma %.2f", off, got.r, got.sigma)
	}
}
