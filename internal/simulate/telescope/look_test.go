package telescope

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat"

	"halocue/internal/optics"
)

// D = 200, F = 5 in 2 arcsec: the air's coma in one short exposure (Noll 1976: 0.00619
// (D/r0)^(5/3) rad^2 per axis) is worth 0.68 mm of field per axis. The offset scatters by K times that.
func TestLookScattersByTheAirsComa(t *testing.T) {
	n := still()
	n.Telescope = optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}
	n.Sky.Seeing, n.Sky.Flux = 2, 1e9
	n.Camera.FullWell = 1e6
	n.Star, n.Z = r2.Vec{}, 5
	tel := New(n)
	var x, ring []float64
	for i := range 4000 {
		tel.Advance(float64(i))
		v := tel.Look()
		if !v.Found {
			t.Fatal(v.Why)
		}
		x = append(x, v.Offset.X)
		ring = append(ring, v.Star.X)
	}
	mean, sd := stat.MeanStdDev(x, nil)
	k := n.Telescope.OffsetPerField() / n.Camera.Pixel
	near(t, "field of the scatter, mm", sd/k, 0.68, 0.03)
	want := n.Telescope.Offset(n.Star, n.Axis, tel.Truth().Silhouette, n.Z)
	near(t, "mean offset, px", mean, want.X/n.Camera.Pixel, 4*sd/math.Sqrt(4000))
	// By Noll's tilt: image motion 0.70 arcsec RMS per axis for the same air. The
	// outline goes further: coma moves it by (7/9) 3h/16F^2 when its tilt is out.
	_, sd = stat.MeanStdDev(ring, nil)
	comatic := 0.68 * 7 / 9 * 3 / (16 * 25) / 1000 / arcsec
	near(t, "motion of the ring, arcsec", sd*n.Camera.Pixel/1000/arcsec, math.Hypot(0.70, comatic), 0.05)
}

// A worked example of the formula: R = 0.5 mm, 100000 photons, an edge of
// 0.01 mm, eps 0.25: 0.5 um. Ours is softer by the Fresnel zone, never sharper.
func TestPhotonSigma(t *testing.T) {
	n := still()
	n.Telescope = optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}
	n.Z, n.Sky.Flux, n.Sky.Back = 5, 1e5, 0
	n.Camera.Read, n.Camera.Bits, n.Camera.FullWell = 0, 16, 6000
	soft := math.Sqrt(sq(0.5*math.Sqrt(5*550e-6)) + 0.1*sq(n.Camera.Pixel))
	want := 0.5e-3 * math.Sqrt(soft/0.01) / n.Camera.Pixel
	near(t, "sigma, px", New(n).photonSigma(0), want, 0.03*want)
}

func TestEdgeFactorIsTheTable(t *testing.T) {
	for x, k := range map[float64]float64{0: 1.05, 0.05: 1.25, 0.1: 1.40, 0.25: 1.90, 0.5: 3.22} {
		near(t, "k", edgeFactor(x), k, 0.06*k)
	}
}

func TestLookSaysWhyNot(t *testing.T) {
	cases := map[string]func(*Night){
		"focused": func(n *Night) { n.Z = 0.05 },
		"cut-off": func(n *Night) { n.Star = r2.Vec{X: 1280 * 0.00375 / 2} },
		"dark":    func(n *Night) { n.Star = r2.Vec{X: 9} },
		"clipped": func(n *Night) { n.Sky.Flux *= 10 },
		"faint":   func(n *Night) { n.Sky.Flux /= 1000 },
		"":        func(*Night) {},
	}
	for why, change := range cases {
		n := still()
		change(&n)
		if v := New(n).Look(); v.Why != why || v.Found != (why == "") {
			t.Errorf("want %q, got %q, found %v", why, v.Why, v.Found)
		}
	}
}
