package ring

import (
	"fmt"
	"testing"

	"halocue/vision/frame"
)

// enlarge puts f into a larger frame of its own sky.
func enlarge(f *frame.Frame, w, h, x0, y0 int) *frame.Frame {
	g := frame.New(w, h)
	g.White = f.White
	for i := range g.Pix {
		g.Pix[i] = f.Pix[i%f.Width]
	}
	for y := range f.Height {
		copy(g.Pix[(y0+y)*w+x0:], f.Pix[y*f.Width:(y+1)*f.Width])
	}
	return g
}

func cleanRing(t testing.TB) (star, *frame.Frame) {
	s := stars(t, "clean")[3]
	return s, load(t, s.Files[0])
}

var sizes = []struct{ w, h int }{{640, 480}, {1280, 960}, {1920, 1440}, {3840, 2160}}

// One frame that follows another.
func BenchmarkTrack(b *testing.B) {
	s, f := cleanRing(b)
	for _, z := range sizes {
		b.Run(fmt.Sprintf("%dx%d", z.w, z.h), func(b *testing.B) {
			g := enlarge(f, z.w, z.h, z.w-640, z.h-480)
			m := s.meter()
			m.Track(g)
			b.ReportAllocs()
			for b.Loop() {
				if !m.Track(g).Found {
					b.Fatal("lost")
				}
			}
		})
	}
}

// One frame in which the ring must be searched for first.
func BenchmarkSearch(b *testing.B) {
	s, f := cleanRing(b)
	for _, z := range sizes {
		b.Run(fmt.Sprintf("%dx%d", z.w, z.h), func(b *testing.B) {
			g := enlarge(f, z.w, z.h, z.w-640, z.h-480)
			m := s.meter()
			m.Track(g)
			b.ReportAllocs()
			for b.Loop() {
				m.track.on = false
				if !m.Track(g).Found {
					b.Fatal("lost")
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(z.w*z.h), "ns/pixel")
		})
	}
}

// The most careful look, as the measure command takes it.
func BenchmarkMeasure(b *testing.B) {
	s, f := cleanRing(b)
	m := s.meter()
	for b.Loop() {
		m.Measure(f)
	}
}
