package ring

import (
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The convolution is compared with gonum's transforms.
func TestConvolveAgainstGonum(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{8, 32, 64, 128, 256} {
		const width = 19
		m := make([]complex64, n*width)
		for i := range m {
			m[i] = complex(float32(rnd.NormFloat64()), float32(rnd.NormFloat64()))
		}
		spec := make([]complex64, n)
		for i := range spec {
			spec[i] = complex(float32(rnd.NormFloat64()), float32(rnd.NormFloat64()))
		}
		fft := fourier.NewCmplxFFT(n)
		want := make([]complex128, n*width)
		for x := range width {
			col := make([]complex128, n)
			for k := range n {
				col[k] = complex128(m[k*width+x])
			}
			fft.Coefficients(col, col)
			for k := range n {
				col[k] *= complex128(spec[k])
			}
			fft.Sequence(col, col)
			for k := range n {
				want[k*width+x] = col[k]
			}
		}
		newConvolver(n).run(m, width, 0, width, spec)
		for i := range m {
			if cmplx.Abs(complex128(m[i])-want[i]) > 2e-6*float64(n) {
				t.Fatalf("n %d: element %d is %v, gonum gives %v", n, i, m[i], want[i])
			}
		}
	}
}

func BenchmarkConvolve(b *testing.B) {
	const n = 256
	b.Run("ours", func(b *testing.B) {
		m, spec := make([]complex64, n*n), make([]complex64, n)
		c := newConvolver(n)
		for b.Loop() {
			c.run(m, n, 0, n, spec)
		}
	})
	b.Run("gonum", func(b *testing.B) {
		m, spec := make([]complex128, n*n), make([]complex128, n)
		fft := fourier.NewCmplxFFT(n)
		for b.Loop() {
			for k := range n {
				row := m[k*n : (k+1)*n]
				fft.Coefficients(row, row)
				for i := range row {
					row[i] *= spec[i]
				}
				fft.Sequence(row, row)
			}
		}
	})
}
