package ring

import (
	"math"
	"testing"

	"halocue/internal/optics"
)

// In moving air the offset wanders from frame to frame. What was rendered for one like it
// is taken again: the answer is that of a meter which renders anew, and no time is lost.
func TestABiasIsRecalled(t *testing.T) {
	config := Config{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}}
	look := func(m *Meter, lean float64) Circle {
		m.region.bin = 1
		o := outline{outer: Circle{X: 200, Y: 150, Radius: 80}, inner: Circle{X: 200 + lean, Y: 150, Radius: 20}, hole: true}
		m.correct(&o)
		if !m.bias.known {
			t.Fatalf("an offset of %g px: nothing was learned", lean)
		}
		return o.inner
	}
	m := NewMeter(config)
	leans := []float64{8, 12, 20, 30}
	for range 2 {
		for _, lean := range leans {
			look(m, lean)
		}
	}
	learned := m.bias.last
	for i := range 200 {
		lean := leans[i%len(leans)] * (1 + 0.05*math.Sin(float64(i)))
		fresh := look(NewMeter(config), lean)
		if got := look(m, lean); math.Hypot(got.X-fresh.X, got.Y-fresh.Y) > 0.05 || math.Abs(got.Radius-fresh.Radius) > 0.05 {
			t.Fatalf("an offset of %g px: %+v, by a fresh meter %+v", lean, got, fresh)
		}
		if i == 20 && m.bias.last != learned {
			t.Fatalf("rendered again: %d after %d", m.bias.last, learned)
		}
	}
	// Another pixel has other fringes, and another picture.
	m.pixel *= 2
	if look(m, leans[0]); m.bias.fresnel != m.fresnelPerPx() {
		t.Errorf("what was found for another pixel is taken")
	}
}
