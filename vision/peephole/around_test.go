package peephole

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// Around goes clockwise as the frame is seen, from its right: in a frame that grows brighter
// downwards it is brightest a quarter of the way round, and darkest at three quarters; where
// the frame does not reach it is negative.
func TestAroundGoesClockwise(t *testing.T) {
	f := &frame.Frame{Width: 200, Height: 200, White: 255, Pix: make([]float32, 200*200)}
	for i := range f.Pix {
		f.Pix[i] = float32(i / 200)
	}
	v := View{Secondary: Circle{Centre: r2.Vec{X: 100, Y: 100}, Radius: 50}}
	v.around(newPicture(f))
	for i, got := range v.Around {
		sin := math.Sin(2 * math.Pi * float64(i) / directions)
		if want := 100 + 1.2*50*sin; math.Abs(got-want) > 8 {
			t.Errorf("direction %d: brightness %.1f, want about %.1f", i, got, want)
		}
	}
	v.Secondary.Centre.X = 10
	if v.around(newPicture(f)); v.Around[directions/2] >= 0 || v.Around[0] < 0 {
		t.Errorf("off the frame %g, on it %g", v.Around[directions/2], v.Around[0])
	}
}
