package ring

import "testing"

func BenchmarkRender256(b *testing.B) {
	p := newPlane(256, 5)
	out := make([]float32, 256*256)
	s := shape{n: 90, kx: 0.03, eps: 0.25}
	for b.Loop() {
		p.render(&s, out)
	}
}
func BenchmarkRender128(b *testing.B) {
	p := newPlane(128, 5)
	out := make([]float32, 128*128)
	s := shape{n: 30, kx: 0.03, eps: 0.25}
	for b.Loop() {
		p.render(&s, out)
	}
}

func BenchmarkRender512(b *testing.B) {
	p := newPlane(512, 5)
	out := make([]float32, 512*512)
	s := shape{n: 90, kx: 0.03, eps: 0.25}
	for b.Loop() {
		p.render(&s, out)
	}
}
