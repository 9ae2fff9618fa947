package ring

import (
	"math"
	"testing"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// A ring of which only a sliver is left in the frame is cut off, whatever shape
// the sliver has: the next step is to bring the star back, not to defocus.
func TestSliverIsCutOff(t *testing.T) {
	for _, left := range []float64{5, 12, 25, 40} { // rows of the ring that are in the frame
		f := frame.New(640, 480)
		f.White = 255
		cx, cy, r := 330.0, 480-left+80, 80.0
		for y := range f.Height {
			for x := range f.Width {
				d := math.Hypot(float64(x)-cx, float64(y)-cy)
				v := 4 + float64((x*7+y*13)%3)
				if d < r && d > r/4 {
					v += 120
				}
				f.Pix[y*f.Width+x] = float32(v)
			}
		}
		m := NewMeter(Config{Telescope: optics.Telescope{Aperture: 200, FocalLength: 1000, Secondary: 50}, PixelMM: 0.005})
		for name, got := range map[string]Measurement{"Measure": m.Measure(f), "Track": m.Track(f)} {
			if got.Found || got.Why != CutOff {
				t.Errorf("%s, %g rows: found %v, why %q", name, left, got.Found, got.Why)
			}
		}
	}
}
