package telescope

import (
	"math"
	"testing"
)

// First dark ring of an obscured aperture at focus, in lambda F: the
// first zero of 2 J1(v)/v - eps^2 2 J1(eps v)/(eps v), over pi.
func TestFirstDarkRing(t *testing.T) {
	for eps, want := range map[float64]float64{0: 1.2197, 0.2: 1.1665, 0.25: 1.1416, 0.33: 1.0977, 0.5: 1.0009} {
		d := newDiffraction(512)
		s := d.diffract(&pupil{eps: eps}, 5, []float64{1})
		least, at := math.Inf(1), 0.0
		for r := 0.8; r < 1.5; r += 0.001 {
			if v := s.exactly(r * 5 * 550e-6); v < least {
				least, at = v, r
			}
		}
		near(t, "dark ring", at, want, 0.005)
	}
}

// exactly interpolates along the x axis by Whittaker and Shannon's series.
func (s stamp) exactly(x float64) float64 {
	var sum float64
	for i, v := range s.v[s.n/2*s.n : (s.n/2+1)*s.n] {
		sum += v * sinc(x/s.step+float64(s.n/2-i))
	}
	return sum
}

// Far field and Fresnel pattern are the same thing where both can be computed.
func TestBothWaysMeet(t *testing.T) {
	p := pupil{eps: 0.25, defocus: 13, coma: polar(0.6, 0.4), half: 0.01}
	p.vanes = append(p.vanes, polar(1, 1), polar(1, 3))
	for _, side := range []float64{-1, 1} {
		p.defocus = math.Copysign(p.defocus, side)
		far := newDiffraction(512).diffract(&p, 5, []float64{1})  // 26 < 512 / 13
		near := newDiffraction(256).diffract(&p, 5, []float64{1}) // 26 > 256 / 13
		if near.step == far.step {
			t.Fatal("both took the same way")
		}
		var diff, sum float64
		radius := 26 * 10 * 550e-6
		for i := range 4000 {
			x, y := radius*1.1*math.Cos(float64(i)*1.1)*math.Sqrt(float64(i)/4000), radius*1.1*math.Sin(float64(i)*1.1)*math.Sqrt(float64(i)/4000)
			a, b := near.at(x, y), far.at(x, y)
			diff, sum = diff+math.Abs(a-b), sum+a
		}
		if diff/sum > 0.03 {
			t.Errorf("side %+.0f: they differ by %.1f %%", side, 100*diff/sum)
		}
	}
}

// All of the star's light is in the stamp, whatever is done to it.
func TestStampHoldsAllLight(t *testing.T) {
	for _, w := range []float64{0, 5, -40} {
		d := newDiffraction(256)
		s := d.diffract(&pupil{eps: 0.3, defocus: w}, 6, band(3))
		s.soften(d.g, 0.004, 0.003, 0.004, -0.002)
		var sum float64
		for _, v := range s.v {
			sum += v * s.step * s.step
		}
		near(t, "light", sum, 1, 1e-3)
	}
}

// Coma of W131 = 0.63246 waves (F = 5, h = 1.3914 mm) has a Strehl ratio of 0.8016, the
// integral of the wave over the pupil at the best tilt.
func TestComaStrehl(t *testing.T) {
	peak := func(p pupil) float64 {
		s := newDiffraction(512).diffract(&p, 5, []float64{1})
		best := 0.0
		for y := -0.01; y <= 0.01; y += 0.0002 {
			for x := -0.01; x <= 0.01; x += 0.0002 {
				best = math.Max(best, s.at(x, y))
			}
		}
		return best
	}
	near(t, "Strehl", peak(pupil{coma: polar(0.63246, 0)})/peak(pupil{}), 0.8016, 0.004)
}
