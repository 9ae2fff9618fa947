package nights

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/simulate/telescope"
)

func TestSameSeedSameNight(t *testing.T) {
	for seed := range uint64(20) {
		a, b := telescope.New(Draw(seed, DrawOptions{})), telescope.New(Draw(seed, DrawOptions{}))
		for i := range 20 {
			a.Advance(float64(i) * 0.1)
			b.Advance(float64(i) * 0.1)
			if va, vb := a.Look(), b.Look(); va.Offset != vb.Offset || va.Star != vb.Star {
				t.Fatalf("seed %d, look %d: %v and %v", seed, i, va, vb)
			}
		}
	}
}

func TestDrawnNightsBeginMeasurable(t *testing.T) {
	found := 0
	for seed := range uint64(300) {
		n := Draw(seed, DrawOptions{})
		if f := n.Telescope.FocalRatio(); f < 3.95 || f > 8.05 {
			t.Errorf("seed %d: F/%.2f", seed, f)
		}
		if a := r2.Norm(n.Axis); a < 0.5 || a > 6 {
			t.Errorf("seed %d: axis %.2f mm off", seed, a)
		}
		if v := telescope.New(n).Look(); v.Found {
			found++
		} else {
			t.Logf("seed %d: %s, ring %.0f px, level %.2f", seed, v.Why, v.Radius, v.Level)
		}
	}
	if found < 290 {
		t.Errorf("only %d of 300 begin with a ring to measure", found)
	}
}
