package telescope

import (
	"testing"

	"halocue/vision/frame"
)

// BenchmarkRender draws frames of 1280 x 960 with a ring of 91 px radius: quick
// as every night does, exact by diffraction.
func BenchmarkRender(b *testing.B) {
	n := Demo(1)
	n.Camera.Width, n.Camera.Height = 1280, 960
	for name, exact := range map[string]bool{"quick": false, "exact": true} {
		b.Run(name, func(b *testing.B) {
			n.Exact = exact
			tel, f := New(n), &frame.Frame{}
			tel.Render(f)
			i := 0
			for b.Loop() {
				i++
				tel.Advance(float64(i) / 10)
				tel.Render(f)
			}
		})
	}
}

func BenchmarkLook(b *testing.B) {
	tel := New(Demo(1))
	i := 0
	for b.Loop() {
		i++
		tel.Advance(float64(i) / 10)
		tel.Look()
	}
}
