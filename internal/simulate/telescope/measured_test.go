package telescope_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat"

	"halocue/internal/simulate/nights"
	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// scatter collects offsets, px, relative to the truth.
type scatter struct{ x, y, radius []float64 }

func (s *scatter) add(offset, want r2.Vec, radius float64) {
	s.x, s.y = append(s.x, offset.X-want.X), append(s.y, offset.Y-want.Y)
	s.radius = append(s.radius, radius)
}

func (s *scatter) sd() float64 {
	return math.Sqrt((stat.Variance(s.x, nil) + stat.Variance(s.y, nil)) / 2)
}

// A look without pixels and a measurement of the rendered frame are the same
// thing to the coach: no bias that the air does not explain, the same scatter, the
// same ring.
func TestLooksScatterAsMeasuredFramesDo(t *testing.T) {
	const frames = 30
	for _, seed := range []uint64{0, 2, 3} {
		n := nights.Draw(seed, nights.DrawOptions{Tracked: true, Width: 640, Height: 480})
		n.Mount = telescope.Mount{}
		tel := telescope.New(n)
		tr := tel.Truth()
		want := r2.Scale(1/n.Camera.Pixel, n.Telescope.Offset(tr.Star, tr.Axis, tr.Silhouette, tr.Z))
		meter := ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
		var looked, measured scatter
		var f frame.Frame
		for i := range frames {
			tel.Advance(1.3 * float64(i)) // far apart: independent air
			v := tel.Look()
			tel.Render(&f)
			m := meter.Track(&f)
			if !v.Found || !m.Found {
				t.Fatalf("seed %d: look %q, measurement %q", seed, v.Why, m.Why)
			}
			looked.add(v.Offset, want, v.Radius)
			measured.add(m.Offset, want, m.Ring.Radius)
		}
		air := n.Telescope.AirComa(n.Sky.Fried()) / n.Telescope.ComaRMS(1) * n.Telescope.OffsetPerField() / n.Camera.Pixel
		t.Logf("seed %d: scatter looked %.2f px, measured %.2f, the air's coma %.2f", seed, looked.sd(), measured.sd(), air)
		if r := measured.sd() / looked.sd(); r < 0.7 || r > 1.4 {
			t.Errorf("seed %d: measured frames scatter %.2f times as looks do", seed, r)
		}
		limit := 3.5 * air / math.Sqrt(frames)
		for _, s := range []scatter{looked, measured} {
			if b := math.Hypot(stat.Mean(s.x, nil), stat.Mean(s.y, nil)); b > limit {
				t.Errorf("seed %d: bias %.2f px, limit %.2f", seed, b, limit)
			}
		}
		a, b := stat.Mean(looked.radius, nil), stat.Mean(measured.radius, nil)
		if math.Abs(a-b) > 0.02*a {
			t.Errorf("seed %d: ring of %.1f px looked, %.1f measured", seed, a, b)
		}
	}
}
