package guide

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
)

// Only a ring that grows both dim and soft, or very soft, is dewed: not one that
// is racked to another size, nor one in other light.
func TestDewIsDimAndSoft(t *testing.T) {
	for name, c := range map[string]struct {
		light, soft, radius float64 // at the end, as multiples of what they were
		want                bool
	}{
		"dew":           {light: 0.3, soft: 9, radius: 1, want: true},
		"thin cloud":    {light: 0.3, soft: 1, radius: 1},
		"worse air":     {light: 1, soft: 9, radius: 1},
		"racked":        {light: 1, soft: 1, radius: 2},
		"dew, exposure": {light: 1, soft: 40, radius: 1, want: true},
	} {
		var d dew
		told := false
		for i := range 1200 {
			part := min(1, float64(i)/900)
			to := func(x float64) float64 { return 1 + part*(x-1) }
			s := coach.Sight{T: float64(i) / 10, Found: true, Radius: 50 * to(c.radius), Level: 0.3 * to(c.light) / (to(c.radius) * to(c.radius))}
			// sigma^2 = k softness R / N, N being level times area.
			sigma2 := 0.01 * to(c.soft) / (s.Level * s.Radius)
			s.Sigma = r2.Vec{X: math.Sqrt(sigma2)}
			if _, news := d.see(s); news {
				told = true
			}
		}
		if told != c.want {
			t.Errorf("%s: told %v", name, told)
		}
	}
}
