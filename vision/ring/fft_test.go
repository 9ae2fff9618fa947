package ring

import (
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The convolution is held against gonum's transforms.
func TestConvolveAgainstGonum(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{8, 32, 64, 128, 256} {
		const width = 19
		m := make([]complex128, n*width)
		for i := range m {
			m[i] = complex(rnd.NormFloat64(), rnd.NormFloat64())
		}
		spec := make([]complex128, n)
		for i := range spec {
			spec[i] = complex(rnd.NormFloat64(), rnd.NormFloat64())
		}
		fft := fourier.NewCmplxFFT(n)
		want := make([]complex128, n*width)
		for x := range width {
			col := make([]complex128, n)
			for k := range n {
				col[k] = m[k*width+x]
			}
			fft.Coefficients(col, col)
			for k := range n {
				col[k] *= spec[k]
			}
			fft.Sequence(col, col)
			for k := range n {
				want[k*width+x] = col[k]
			}
		}
		newConvolver(n).run(m, width, 0, width, spec)
		for i := range m {
			if cmplx.Abs(m[i]-want[i]) > 1e-9 {
				t.Fatalf("n %d: element %d is %v, gonum gives %v", n, i, m[i], want[i])
			}
		}
	}
}

func BenchmarkConvolve(b *testing.B) {
	const n = 256
	m := make([]complex128, n*n)
	for i := range m {
		m[i] = complex(float64(i%7), 1)
	}
	spec := make([]complex128, n)
	for i := range spec {
		spec[i] = 1. / n
	}
	b.Run("ours", func(b *testing.B) {
		c := newConvolver(n)
		for b.Loop() {
			c.run(m, n, 0, n, spec)
		}
	})
	b.Run("gonum", func(b *testing.B) {
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
