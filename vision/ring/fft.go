package ring

import "math"

// convolver convolves the columns of a complex matrix, cyclically, with one
// kernel that is given by its spectrum. It goes forward by Gentleman and Sande's
// decimation in frequency and back by Cooley and Tukey's decimation in time
// (radix 4), so that the shuffled order in between never has to be undone; and
// each butterfly runs over a strip of columns side by side. gonum's dsp/fourier takes
// 2.3 times as long and twice the memory for 256 x 256 (go test ./vision/ring -bench
// Convolve: 1.8 and 4.2 ms on x86), and this is 45 % of Measure's instructions.
type convolver struct {
	n    int         // rows, a power of 2
	twid []complex64 // exp(-2 pi i k / n)
	perm []int       // frequency that stands in row k between the two halves
}

// strip is how many columns go together: n = 256 of them fit a 64 kB cache.
const strip = 16

func newConvolver(n int) *convolver {
	c := &convolver{n: n, twid: make([]complex64, n), perm: make([]int, n)}
	for k := range n {
		sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(n))
		c.twid[k] = complex(float32(cos), float32(sin))
	}
	c.order(0, 1, 0, n)
	return c
}

// order fills perm[at:at+size] with first, first+stride*..., in the order that
// the forward half leaves.
func (c *convolver) order(first, stride, at, size int) {
	switch {
	case size == 1:
		c.perm[at] = first
	case size%4 == 0:
		for r := range 4 {
			c.order(first+r*stride, 4*stride, at+r*size/4, size/4)
		}
	default:
		c.order(first, 2*stride, at, size/2)
		c.order(first+stride, 2*stride, at+size/2, size/2)
	}
}

// run convolves columns from <= i < to of m (n rows of width). spectrum holds
// the kernel's transform over n, by frequency as a discrete transform counts.
func (c *convolver) run(m []complex64, width, from, to int, spectrum []complex64) {
	for i := from; i < to; i += strip {
		c.forward(m, width, i, min(i+strip, to))
		for k := range c.n {
			s := spectrum[c.perm[k]]
			row := m[k*width+i : k*width+min(i+strip, to)]
			for x := range row {
				row[x] *= s
			}
		}
		c.backward(m, width, i, min(i+strip, to))
	}
}

func (c *convolver) forward(m []complex64, width, from, to int) {
	size := c.n
	for ; size%4 == 0; size /= 4 {
		q := size / 4
		step := c.n / size
		for k := range q {
			w1, w2, w3 := c.twid[k*step], c.twid[2*k*step], c.twid[3*k*step]
			for at := k; at < c.n; at += size {
				a := m[at*width+from : at*width+to]
				b := m[(at+q)*width+from:][:len(a)]
				d := m[(at+2*q)*width+from:][:len(a)]
				e := m[(at+3*q)*width+from:][:len(a)]
				for x := range a {
					p, r := a[x]+d[x], a[x]-d[x]
					s, t := b[x]+e[x], b[x]-e[x]
					t = complex(imag(t), -real(t)) // -i t
					a[x] = p + s
					b[x] = (r + t) * w1
					d[x] = (p - s) * w2
					e[x] = (r - t) * w3
				}
			}
		}
	}
	if size == 2 {
		c.pairs(m, width, from, to)
	}
}

func (c *convolver) backward(m []complex64, width, from, to int) {
	size := 1
	if c.oddTwo() {
		c.pairs(m, width, from, to)
		size = 2
	}
	for size *= 4; size <= c.n; size *= 4 {
		q := size / 4
		step := c.n / size
		for k := range q {
			w1, w2, w3 := conj(c.twid[k*step]), conj(c.twid[2*k*step]), conj(c.twid[3*k*step])
			for at := k; at < c.n; at += size {
				a := m[at*width+from : at*width+to]
				b := m[(at+q)*width+from:][:len(a)]
				d := m[(at+2*q)*width+from:][:len(a)]
				e := m[(at+3*q)*width+from:][:len(a)]
				for x := range a {
					u, v, w := b[x]*w1, d[x]*w2, e[x]*w3
					p, r := a[x]+v, a[x]-v
					s, t := u+w, u-w
					t = complex(-imag(t), real(t)) // i t
					a[x] = p + s
					b[x] = r + t
					d[x] = p - s
					e[x] = r - t
				}
			}
		}
	}
}

// pairs is the butterfly of radix 2 over neighbouring rows; it is its own inverse
// up to a factor of 2.
func (c *convolver) pairs(m []complex64, width, from, to int) {
	for at := 0; at < c.n; at += 2 {
		a := m[at*width+from : at*width+to]
		b := m[(at+1)*width+from:][:len(a)]
		for x := range a {
			a[x], b[x] = a[x]+b[x], a[x]-b[x]
		}
	}
}

// oddTwo reports whether n is 2 times a power of 4.
func (c *convolver) oddTwo() bool {
	n := c.n
	for n%4 == 0 {
		n /= 4
	}
	return n == 2
}

func conj(z complex64) complex64 { return complex(real(z), -imag(z)) }

// transpose swaps rows and columns of the n x n matrix m, by tiles.
func transpose(m []complex64, n int) {
	const tile = 16
	for j0 := 0; j0 < n; j0 += tile {
		for i0 := j0; i0 < n; i0 += tile {
			for j := j0; j < min(j0+tile, n); j++ {
				first := i0
				if i0 == j0 {
					first = j + 1
				}
				for i := first; i < min(i0+tile, n); i++ {
					m[j*n+i], m[i*n+j] = m[i*n+j], m[j*n+i]
				}
			}
		}
	}
}
