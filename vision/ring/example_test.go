package ring_test

import (
	"fmt"
	"image/png"
	"os"

	"halocue/internal/optics"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// One frame of a defocused star, drawn by a program that shares no code with this
// one: testdata/stars/truth.json has a ring of 65.2 px and an offset of 11.3, 4.6 px.
func ExampleMeter_Measure() {
	f, err := read("../../testdata/stars/clean-00.png")
	if err != nil {
		fmt.Println(err)
		return
	}
	t := optics.Telescope{Aperture: 114, FocalLength: 900, Secondary: 30.78}
	m := ring.NewMeter(ring.Config{Telescope: t, PixelMM: 0.00375}).Measure(f)
	if !m.Found {
		fmt.Println("no ring:", m.Why) // an ordinary result, not an error
		return
	}
	fmt.Printf("ring of %.0f px, offset %.1f, %.1f px\n", m.Ring.Radius, m.Offset.X, m.Offset.Y)
	fmt.Printf("sigma below a fifth of a pixel: %t\n", m.Sigma.X < 0.2 && m.Sigma.Y < 0.2)
	// Output:
	// ring of 65 px, offset 11.3, 4.6 px
	// sigma below a fifth of a pixel: true
}

// A frame without a star says why there is nothing to measure.
func ExampleMeter_Measure_nothing() {
	black := frame.New(640, 480)
	black.White = 255
	t := optics.Telescope{Aperture: 200, FocalLength: 1000}
	m := ring.NewMeter(ring.Config{Telescope: t}).Measure(black)
	fmt.Println(m.Found, m.Why)
	// Output:
	// false dark
}

func read(path string) (*frame.Frame, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	img, err := png.Decode(file)
	if err != nil {
		return nil, err
	}
	size := img.Bounds().Size()
	f := frame.New(size.X, size.Y)
	f.White = 65535
	for y := range size.Y {
		for x := range size.X {
			grey, _, _, _ := img.At(x, y).RGBA() // 0 to 65535
			f.Pix[y*size.X+x] = float32(grey)
		}
	}
	return f, nil
}
