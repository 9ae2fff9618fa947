package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Combined is what several looks at one pointing say together.
type Combined struct {
	Measurement
	Frames int // measured, of those given
}

// Combine joins measurements of one pointing: the robust mean of their offsets,
// each weighted alike, and its sigma from their scatter, which holds the air as
// well as the light. With fewer than four the sigmas of the single frames rule.
func Combine(ms []Measurement) Combined {
	var good []Measurement
	for _, m := range ms {
		if m.Found {
			good = append(good, m)
		}
	}
	c := Combined{Frames: len(good)}
	if len(good) == 0 {
		c.Why = NoRing
		if len(ms) > 0 {
			c.Why = ms[0].Why
		}
		return c
	}
	c.Measurement = good[len(good)/2]
	n := float64(len(good))
	var ox, oy, vx, vy []float64
	for _, m := range good {
		ox, oy = append(ox, m.Offset.X), append(oy, m.Offset.Y)
		vx, vy = append(vx, sq(m.Sigma.X)), append(vy, sq(m.Sigma.Y))
	}
	x, sx := robustMean(ox)
	y, sy := robustMean(oy)
	lx, ly := math.Sqrt(mean(vx)/n), math.Sqrt(mean(vy)/n)
	c.Offset = r2.Vec{X: x, Y: y}
	if len(good) < 4 {
		c.Sigma = r2.Vec{X: lx, Y: ly}
	} else {
		// The air treats x and y alike: pooling them halves the error of sigma.
		s := math.Sqrt((sx*sx + sy*sy) / 2)
		c.Sigma = r2.Vec{X: max(s, lx), Y: max(s, ly)}
	}
	c.Shadow.X, c.Shadow.Y = c.Ring.X+x, c.Ring.Y+y
	return c
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// robustMean returns Huber's mean of v (tuning 2 robust sigma) and its standard
// deviation from the scatter.
func robustMean(v []float64) (m, sigma float64) {
	s := append([]float64(nil), v...)
	m = median(s)
	for i, x := range v {
		s[i] = math.Abs(x - m)
	}
	scale := 1.4826*median(s) + 1e-12
	var w, q float64
	for range 20 {
		var sum float64
		w, q = 0, 0
		for _, x := range v {
			u := min(1, 2*scale/(math.Abs(x-m)+1e-300))
			w += u
			sum += u * x
			q += u * u * (x - m) * (x - m)
		}
		m = sum / w
	}
	n := float64(len(v))
	if n < 2 {
		return m, 0
	}
	return m, math.Sqrt(q*n/(n-1)) / w
}
