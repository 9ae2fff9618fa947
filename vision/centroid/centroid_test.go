package centroid_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/centroid"
	"halocue/vision/frame"
)

// star draws a Gaussian spot of light over a noisy sky with a gradient.
func star(r *rand.Rand, at r2.Vec, sd, height float64) *frame.Frame {
	f := frame.New(160, 120)
	for i := range f.Pix {
		x, y := float64(i%f.Width), float64(i/f.Width)
		d2 := (x-at.X)*(x-at.X) + (y-at.Y)*(y-at.Y)
		f.Pix[i] = float32(20 + 0.01*x + 2*r.NormFloat64() + height*math.Exp(-d2/(2*sd*sd)))
	}
	return f
}

// From a start 4 px off the centre is found to a tenth of a pixel, which noise of 1
// per cent of the peak allows for each of these sizes.
func TestRefineFindsTheCentre(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, sd := range []float64{1, 2, 4} {
		for range 50 {
			at := r2.Vec{X: 60 + 40*r.Float64(), Y: 50 + 20*r.Float64()}
			got, edge, ok := centroid.Refine(star(r, at, sd, 200), r2.Add(at, r2.Vec{X: 3, Y: -2.6}), 20)
			if off := r2.Norm(r2.Sub(got, at)); !ok || edge || off > 0.1 {
				t.Fatalf("sd %g: off by %.3f px, edge %v, ok %v", sd, off, edge, ok)
			}
		}
	}
}

func TestRefineSaysWhenItCannot(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	f := star(r, r2.Vec{X: 8, Y: 60}, 2, 200)
	if _, edge, ok := centroid.Refine(f, r2.Vec{X: 8, Y: 60}, 20); ok || !edge {
		t.Errorf("at the edge: edge %v, ok %v", edge, ok)
	}
	if at, _, ok := centroid.Refine(frame.New(100, 100), r2.Vec{X: 50, Y: 50}, 20); ok {
		t.Errorf("in the dark: %v", at)
	}
}

// A star of fifteen times the noise is found in a large window too: the noise of the sky about
// it, in a thousand pixels and more, does not pull it to the window's middle, from where it is
// sought.
func TestRefineIsNotPulledByNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	sum := 0.0
	for range 50 {
		at := r2.Vec{X: 60 + 40*r.Float64(), Y: 50 + 20*r.Float64()}
		got, _, ok := centroid.Refine(star(r, at, 2, 30), r2.Add(at, r2.Vec{X: 3, Y: -2.6}), 20)
		if off := r2.Norm(r2.Sub(got, at)); !ok || off > 1 {
			t.Fatalf("off by %.2f px, ok %v", off, ok)
		} else {
			sum += off / 50
		}
	}
	if sum > 0.35 {
		t.Errorf("off by %.2f px in the mean", sum)
	}
}
