package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// The scatter and the likeness of neighbouring frames are learned from noise that
// forgets as r^n: the inflation is (1 + r) / (1 - r), a textbook result for the
// mean of an autoregressive series (Priestley, Spectral Analysis and Time Series,
// 1981; from memory).
func TestNoiseLearnsScatterAndLikeness(t *testing.T) {
	for _, rho := range []float64{0, 0.3, 0.6} {
		r := rand.New(rand.NewPCG(13, uint64(100*rho)))
		n := newNoise(optic5(t))
		const sd = 0.002
		var x, y float64
		for range 600 {
			k := sd * math.Sqrt(1-rho*rho)
			x, y = rho*x+k*r.NormFloat64(), rho*y+k*r.NormFloat64()
			n.add(r2.Vec{X: x, Y: y})
		}
		if got := math.Sqrt(n.sd2()); math.Abs(got/sd-1) > 0.15 {
			t.Errorf("r = %.1f: scatter %.5f, made with %.5f", rho, got, sd)
		}
		want := (1 + rho) / (1 - rho)
		if got := n.varianceInflation(); got < 0.9*want || got > 1.5*want {
			t.Errorf("r = %.1f: inflation %.2f, want %.2f or a little more", rho, got, want)
		}
	}
}

// The Fried parameter comes back from the scatter that it causes, and the scatter
// of seeing of 2 arcsec (r0 = 55.6 mm) in a 200 mm F/5 is half the tolerance or
// so, as Noll's coma of 1/27 wave says.
func TestFriedParameterFromScatter(t *testing.T) {
	o := optic5(t)
	for _, r0 := range []float64{40, 80, 150} {
		if got := o.fried(o.airOffset(r0)); math.Abs(got/r0-1) > 1e-9 {
			t.Errorf("r0 = %g comes back as %g", r0, got)
		}
	}
	if share := o.airOffset(55.6) / o.offsetPerField() / o.Tolerance; share < 0.45 || share > 0.55 {
		t.Errorf("air of 2 arcsec is %.2f tolerances in one frame, want 0.50", share)
	}
}
