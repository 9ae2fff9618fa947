package peephole_test

import (
	"testing"

	"halocue/internal/frame"
	scene "halocue/internal/virtual/peephole"
	"halocue/vision/peephole"
)

// A frame of 800 x 600 measured, and one drawn anew, for comparison.
func BenchmarkMeasure(b *testing.B) {
	s := scene.Demo(1)
	var f frame.Frame
	scene.New(s).Render(&f)
	m := peephole.NewMeter(peephole.Config{Aperture: s.Aperture})
	for b.Loop() {
		m.Measure(&f)
	}
}

func BenchmarkRender(b *testing.B) {
	s := scene.Demo(1)
	var f frame.Frame
	for b.Loop() {
		scene.New(s).Render(&f)
	}
}
