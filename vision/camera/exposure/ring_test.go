package exposure_test

import (
	"math"
	"testing"

	"halocue/internal/simulate/telescope"
	"halocue/vision/camera/exposure"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// What the rule is for: whatever the star's brightness over four decades, and
// wherever the camera begins, the ring that the virtual telescope draws ends up
// measured, and neither burnt out nor lost in the noise.
func TestRingNeitherBurntNorLost(t *testing.T) {
	n := telescope.Demo(5)
	full := n.Sky.Flux // electrons of the whole star that put the ring at half of clipping
	limits := exposure.Limits{Seconds: exposure.Range{Min: 1e-4, Max: 0.2}, Gain: exposure.Range{Min: 0, Max: 60}}
	for _, light := range []float64{0.1, 3, 1000} { // of full, in a second, without gain
		for _, first := range []exposure.Setting{{Seconds: 1e-4}, {Seconds: 0.2, Gain: 60}} {
			c := exposure.New(limits, first)
			var f *frame.Frame
			shown := exposure.Setting{Seconds: -1}
			changes := 0
			for range 120 {
				if s := c.Setting(); s != shown { // the air stands still: one picture per setting
					shown = s
					n.Sky.Flux = full * light * s.Seconds * math.Exp2(s.Gain/10)
					f = &frame.Frame{}
					telescope.New(n).Render(f)
				}
				if c.Step(exposure.Level(f)) == exposure.Changed {
					changes++
				}
			}
			m := ring.NewMeter(ring.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel}).Track(f)
			if !m.Found || m.Clipped > 0.02 || m.Level < 0.1 {
				t.Errorf("light %g, from %+v: rests at %+v after %d changes: found %v (%s), level %.2f, burnt out %.3f",
					light, first, shown, changes, m.Found, m.Why, m.Level, m.Clipped)
			}
		}
	}
}
