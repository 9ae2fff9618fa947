package run

import (
	"math"
	"testing"

	"halocue/internal/observe"
	"halocue/internal/simulate/telescope"
	"halocue/vision/ring"
)

// Only a ring that grows both dim and soft, or very soft, is dewed: not one that
// is racked to another size, nor one in other light.
func TestDewIsDimAndSoft(t *testing.T) {
	for name, c := range map[string]struct {
		light, soft, radius float64 // at the end, as multiples of what they were
		want                bool
	}{
		"dew":           {light: 0.3, soft: 2, radius: 1, want: true},
		"thin cloud":    {light: 0.3, soft: 1, radius: 1},
		"worse air":     {light: 1, soft: 2, radius: 1},
		"racked":        {light: 1, soft: 1, radius: 2},
		"dew, exposure": {light: 1, soft: 4, radius: 1, want: true},
	} {
		var d dew
		told := false
		for i := range 1200 {
			part := min(1, float64(i)/900)
			to := func(x float64) float64 { return 1 + part*(x-1) }
			s := observe.Sight{T: float64(i) / 10, Found: true, Radius: 50 * to(c.radius), Level: 0.3 * to(c.light) / (to(c.radius) * to(c.radius))}
			s.Softness = 1.6 * to(c.soft)
			if _, news := d.see(s); news {
				told = true
			}
		}
		if told != c.want {
			t.Errorf("%s: told %v", name, told)
		}
	}
}

// A good night keeps far from the limits of dew, through the air of the virtual
// telescope and at rings of two sizes.
func TestDewOnAGoodNight(t *testing.T)      { dewOnAGoodNight(t, 3.4) }
func TestProveDewOnAGoodNight(t *testing.T) { dewOnAGoodNight(t, 1.8, 3.4) }

func dewOnAGoodNight(t *testing.T, racked ...float64) {
	for _, z := range racked {
		n := provingNight(telescope.Mirror{})
		n.Z = z
		n.Sky.Flux *= 0.5 / n.Level(z)
		src := telescope.NewSource(n, telescope.SourceOptions{FPS: 10})
		meter := ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
		var d dew
		low, high := math.Inf(1), 0.0
		for i := range 300 {
			f, err := src.Next(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			m := meter.Track(f)
			if likely, _ := d.see(sightOf(float64(i)/10, f, m)); likely {
				t.Fatalf("dew at %d tenths of a second", i)
			}
			if d.frames > dewFirst {
				low, high = math.Min(low, d.soft), math.Max(high, d.soft)
			}
		}
		t.Logf("%.1f mm out of focus: softness %.2f to %.2f px, light %.3f of the most", z, low, high, d.light/d.most)
		if !(high < 1.35*low && d.light > 0.85*d.most) {
			t.Errorf("softness %.2f to %.2f px, light %.2f of the most", low, high, d.light/d.most)
		}
	}
}
