package ring

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// A silhouette that stands far off its own scatter is kept whole, and the joint offset is the
// mean of the frames'; one that is lost in its scatter counts for nothing, and the offset is the
// coma's.
func TestSilhouetteCountsByItsScatter(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	join := func(side, scatter float64) r2.Vec {
		var ms []Measurement
		for range 40 {
			coma := r2.Vec{X: 1 + 0.01*r.NormFloat64(), Y: 0.01 * r.NormFloat64()}
			off := r2.Vec{X: side + scatter*r.NormFloat64(), Y: scatter * r.NormFloat64()}
			ms = append(ms, Measurement{Found: true, Split: true, Ring: Circle{Radius: 100}, Coma: coma, Offset: r2.Add(coma, off)})
		}
		return Combine(ms).Offset
	}
	for _, side := range []float64{0.5, 2} {
		if got := join(side, 0.05); math.Abs(got.X-1-side) > 0.05 || math.Abs(got.Y) > 0.05 {
			t.Errorf("a silhouette of %g px: offset %v, want %g", side, got, 1+side)
		}
	}
	if got := join(0, 2); math.Hypot(got.X-1, got.Y) > 0.25 {
		t.Errorf("no silhouette: offset %v, want that of the coma, 1", got)
	}
}

// A sky that has changed since the last frame is measured again, beside the ring.
func TestSkyIsMeasuredAgain(t *testing.T) {
	f := frame.New(200, 200)
	for i := range f.Pix {
		if f.Pix[i] = 30; math.Hypot(float64(i%200)-100, float64(i/200)-100) < 40 {
			f.Pix[i] = 200
		}
	}
	var c region
	ring := Circle{X: 100, Y: 100, Radius: 40}
	if !c.cut(f, ring, plane3{v: 10}, 1) {
		t.Fatal("no region")
	}
	if c.relevel(c.fromFrame(ring)); math.Abs(c.sky.at(5, 5)-30) > 1e-6 {
		t.Errorf("the sky is %g", c.sky.at(5, 5))
	}
}
