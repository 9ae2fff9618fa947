package telescope

import (
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// grid is a square complex field with its Fourier transform.
type grid struct {
	n    int
	v    []complex128 // row by row
	line []complex128
	fft  *fourier.CmplxFFT
}

func newGrid(n int) *grid {
	return &grid{n: n, v: make([]complex128, n*n), line: make([]complex128, 16*n), fft: fourier.NewCmplxFFT(n)}
}

func (g *grid) clear() { clear(g.v) }

// forward transforms the field in place, sum of v exp(-2 pi i k x / n); rows
// that are all zero cost nothing.
func (g *grid) forward() { g.rows(g.fft.Coefficients); g.columns(g.fft.Coefficients) }

// backward is the inverse without the factor 1/n^2.
func (g *grid) backward() { g.columns(g.fft.Sequence); g.rows(g.fft.Sequence) }

func (g *grid) rows(f func(dst, src []complex128) []complex128) {
	for y := range g.n {
		row := g.v[y*g.n : (y+1)*g.n]
		if slices.ContainsFunc(row, func(v complex128) bool { return v != 0 }) {
			f(row, row)
		}
	}
}

// columns takes sixteen at a time, for the memory's sake.
func (g *grid) columns(f func(dst, src []complex128) []complex128) {
	n := g.n
	for x := 0; x < n; x += 16 {
		for y := range n {
			for i, v := range g.v[y*n+x : y*n+x+16] {
				g.line[i*n+y] = v
			}
		}
		for i := range 16 {
			f(g.line[i*n:(i+1)*n], g.line[i*n:(i+1)*n])
		}
		for y := range n {
			for i := range 16 {
				g.v[y*n+x+i] = g.line[i*n+y]
			}
		}
	}
}

// frequency returns the signed frequency of index i, cycles per n samples.
func (g *grid) frequency(i int) float64 {
	if i >= g.n/2 {
		i -= g.n
	}
	return float64(i)
}
