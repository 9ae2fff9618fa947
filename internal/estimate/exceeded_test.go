package estimate

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// The error that is exceeded with a chance of one in four is the upper quartile of
// Rayleigh's distribution around the target, sqrt(2 ln 4) one-sigma; far from it the
// normal one's, 0.674 (both from memory); and of two accounts it is between theirs, by
// how likely they are.
func TestExceeded(t *testing.T) {
	const sd = 0.3
	b := NewBank(optic5(t))
	at := func(x, logW float64) *hypothesis {
		f := certain(1, r2.Vec{X: x}, r2.Vec{})
		f.inflate(sd, 0)
		return &hypothesis{filter: f, logW: logW}
	}
	rayleigh, far := sd*math.Sqrt(2*math.Log(4)), 6+0.674*sd
	for _, c := range []struct {
		name string
		hyps []*hypothesis
		want float64
	}{
		{"at the target", []*hypothesis{at(0, 0)}, rayleigh},
		{"far from it", []*hypothesis{at(6, 0)}, far},
		{"here, or there with 1 %", []*hypothesis{at(0, 0), at(6, math.Log(0.01))}, rayleigh},
		{"here, or there with 50 %", []*hypothesis{at(0, 0), at(6, 0)}, 6},
	} {
		b.hyps = c.hyps
		if got := b.Exceeded(0.25); math.Abs(got-c.want) > 0.05*c.want {
			t.Errorf("%s: %.3f mm, want %.3f", c.name, got, c.want)
		}
	}
}
