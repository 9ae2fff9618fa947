package faults

import (
	"maps"
	"math"
	"slices"
	"testing"

	"halocue/internal/cue"
	"halocue/vision"
	"halocue/vision/frame"
)

// What happens in the sky and in the light path, from the 20th second on: what is
// heard of it, and within how many seconds; what must not be heard; and that the
// night goes on to its end, with a claim that is true.
var skies = map[string]struct {
	spoil   spoiler
	heard   []string // in this order
	within  float64  // seconds, of the first
	never   []string
	deaf    bool    // nobody turns anything, so that the night lasts
	seconds float64 // 0 is 300
}{
	"cloud comes and goes, twice": { // hands off: a star that fades while a knob turns passes for one that it takes away
		spoil: func(t float64, f *frame.Frame) error {
			dim(f, 1-0.99*(ramp(t, 20, 22)-ramp(t, 34, 36)+ramp(t, 60, 62)-ramp(t, 70, 72)))
			return nil
		},
		heard: []string{"clouded", "cleared", "clouded", "cleared"}, within: 9, never: []string{"star-lost", "dew"}},
	"dew": {
		spoil: func(t float64, f *frame.Frame) error {
			blur(f, int(8*ramp(t, 20, 80)))
			dim(f, 1-0.8*ramp(t, 20, 80))
			return nil
		},
		heard: []string{"dew"}, within: 70, never: []string{"clouded", "star-lost"}, deaf: true, seconds: 90},
	"an aircraft and a satellite cross": {
		spoil: func(t float64, f *frame.Frame) error {
			if x := 640 * ramp(t, 25, 26.5); x > 0 && x < 640 {
				for i, lit := range []bool{math.Mod(t, 0.4) < 0.2, true, math.Mod(t, 0.6) < 0.3} {
					if lit {
						another(f, x+float64(40*i), 200+x/5+float64(30*i), 50, 0.6)
					}
				}
			}
			if x := 640 * ramp(t, 30, 38); x > 0 && x < 640 {
				another(f, x, 300-x/4, 50, 0.2)
			}
			return nil
		},
		never: []string{"too-bright", "star-lost", "clouded", "dew", "two-stars", "bad-frames", "blurred"}},
	"star lost and found": {
		spoil: func(t float64, f *frame.Frame) error {
			shift(f, int(640*(ramp(t, 20, 21)-ramp(t, 34, 35))))
			return nil
		},
		heard: []string{"star-lost"}, within: 8, never: []string{"clouded"}},
	"a second star as bright": { // from the beginning: a ring that is known is kept
		spoil: func(t float64, f *frame.Frame) error {
			if t < 40 {
				another(f, 380, 240, 50, 0.8)
			}
			return nil
		},
		heard: []string{"two-stars"}, within: 20},
	"a faint second star": { // the ring that is known is measured all the same
		spoil: func(t float64, f *frame.Frame) error {
			if t > 20 && t < 40 {
				another(f, 380, 240, 50, 0.2)
			}
			return nil
		},
		never: []string{"dew", "clouded"}},
	"exposure jumps": {
		spoil: func(t float64, f *frame.Frame) error {
			if t > 20 && t < 50 {
				dim(f, []float64{20, 0.3, 3, 0.1, 8}[int(t/2)%5])
			}
			return nil
		},
		never: []string{"too-bright"}},
	"frames corrupt": {
		spoil: func(t float64, _ *frame.Frame) error {
			if t > 20 && t < 32 || t > 40 && math.Mod(t, 0.5) < 0.1 {
				return vision.ErrBadFrame
			}
			return nil
		},
		heard: []string{"bad-frames"}, within: 5, never: []string{"star-lost", "clouded"}},
}

func TestSky(t *testing.T) { underSkies(t, "frames corrupt") }

func TestProveSky(t *testing.T) { underSkies(t, slices.Collect(maps.Keys(skies))...) }

func underSkies(t *testing.T, names ...string) {
	for _, name := range names {
		c := skies[name]
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if c.seconds == 0 {
				c.seconds = 300
			}
			all := through(t, 4, c.seconds, c.deaf, c.spoil)
			said, next := between(all, 20, c.seconds), 0
			for _, e := range said {
				t.Logf("%6.1f %-10s %s", e.T, e.Code, e.Text)
				if next < len(c.heard) && e.Code == c.heard[next] {
					if next == 0 && e.T > 20+c.within {
						t.Errorf("%s was said at %.1f s", e.Code, e.T)
					}
					next++
				}
				for _, code := range c.never {
					if e.Code == code {
						t.Errorf("said at %.1f s: %s", e.T, e.Text)
					}
				}
			}
			if next < len(c.heard) {
				t.Errorf("%q was not said", c.heard[next])
			}
			if last := all[len(all)-1]; !c.deaf && said[len(said)-1].Result != cue.Aligned {
				t.Errorf("the night did not go on to its end: %+v", last)
			}
		})
	}
}

// ramp goes from 0 to 1 between two times.
func ramp(t, from, to float64) float64 { return min(max((t-from)/(to-from), 0), 1) }
