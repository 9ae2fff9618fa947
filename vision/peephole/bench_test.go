package peephole_test

import (
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/simulate/indoors"
	"halocue/vision/frame"
	"halocue/vision/peephole"
)

// A frame of 800 x 600 measured, and one drawn anew, for comparison.
func BenchmarkMeasure(b *testing.B) {
	s := indoors.Demo(1)
	var f frame.Frame
	indoors.New(s).Render(&f)
	m := peephole.NewMeter(peephole.Config{Aperture: s.Aperture})
	for b.Loop() {
		m.Measure(&f)
	}
}

func BenchmarkRender(b *testing.B) {
	s := indoors.Demo(1)
	var f frame.Frame
	for b.Loop() {
		indoors.New(s).Render(&f)
	}
}

// BenchmarkAccuracy draws and measures another scene in each round, as the second step
// finds it, and prints how far the outlines are from the truth:
// go test ./vision/peephole -run '^$' -bench Accuracy -benchtime 60x
func BenchmarkAccuracy(b *testing.B) {
	var mirror, secondary, lean []float64
	seed, lost := uint64(0), 0
	for b.Loop() {
		seed++
		s := indoors.Demo(seed)
		s.Turned, s.Twisted = r2.Scale(0.3, s.Turned), 0
		v, tr := see(s)
		if !v.Found || !v.Marked || !v.Reflected {
			lost++
			continue
		}
		off := func(a, b r2.Vec) float64 { return r2.Norm(r2.Sub(a, b)) }
		mirror = append(mirror, off(v.Primary.Centre, tr.Primary))
		secondary = append(secondary, off(v.Secondary.Centre, tr.Secondary))
		mm := s.Aperture / 2 / tr.Radius
		lean = append(lean, mm*off(r2.Sub(v.Spot, v.Mark), r2.Sub(tr.Reflection, tr.Mark)))
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(lost), "lost")
	for name, list := range map[string][]float64{"mirror-px": mirror, "secondary-px": secondary, "lean-mm": lean} {
		slices.Sort(list)
		if n := len(list); n > 0 {
			b.ReportMetric(list[n/2], name+"-median")
			b.ReportMetric(list[n*95/100], name+"-95%")
			b.ReportMetric(list[n-1], name+"-worst")
		}
	}
}
