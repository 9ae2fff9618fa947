package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/robust"
)

// Combined is the joint result of several frames of one pointing.
type Combined struct {
	Measurement
	Frames int // measured, of those given
}

// Combine joins measurements of one pointing. The offset is the robust mean of theirs,
// and its sigma comes from their scatter, which includes the air as well as the light;
// with fewer than four frames it comes from the sigmas of the single frames.
//
// The air disturbs the offset of the edges more than the coma that brightness and edges
// give together. So the offset is taken as coma plus silhouette, and the silhouette's
// mean is reduced by its own scatter: where the silhouette is in the middle of the pupil
// within its error, the brightness counts too. In rendered seeing that makes the error
// 10 to 15 % smaller (docs/measurement.md).
func Combine(ms []Measurement) Combined {
	var good []Measurement
	split := true
	for _, m := range ms {
		if m.Found {
			good = append(good, m)
			split = split && m.Split
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
	offset, sigma := meanOf(good, func(m *Measurement) r2.Vec { return m.Offset })
	light := lightSigma(good)
	if len(good) < scatterFrom {
		c.Offset, c.Sigma = offset, light
	} else {
		if split {
			coma, sc := meanOf(good, func(m *Measurement) r2.Vec { return m.Coma })
			side, ss := meanOf(good, func(m *Measurement) r2.Vec { return r2.Sub(m.Offset, m.Coma) })
			keep := max(0, 1-4*ss*ss/max(r2.Norm2(side), 1e-300))
			offset = r2.Add(coma, r2.Scale(keep, side))
			sigma = keep*sigma + (1-keep)*sc
		}
		c.Offset, c.Sigma = offset, r2.Vec{X: max(sigma, light.X), Y: max(sigma, light.Y)}
	}
	c.Shadow.X, c.Shadow.Y = c.Ring.X+c.Offset.X, c.Ring.Y+c.Offset.Y
	return c
}

// scatterFrom is the least number of frames whose scatter gives a sigma.
const scatterFrom = 4

// meanOf returns the robust mean of a vector and its sigma per axis: the air
// treats x and y alike, so both scatters are pooled.
func meanOf(ms []Measurement, of func(*Measurement) r2.Vec) (v r2.Vec, sigma float64) {
	x, y := make([]float64, len(ms)), make([]float64, len(ms))
	for i := range ms {
		p := of(&ms[i])
		x[i], y[i] = p.X, p.Y
	}
	var sx, sy float64
	v.X, sx = robustMean(x)
	v.Y, sy = robustMean(y)
	return v, math.Sqrt((sx*sx + sy*sy) / 2)
}

// lightSigma returns what the sigmas of the single frames make of the mean's.
func lightSigma(ms []Measurement) r2.Vec {
	var x, y float64
	for _, m := range ms {
		x += sq(m.Sigma.X)
		y += sq(m.Sigma.Y)
	}
	n := float64(len(ms))
	return r2.Vec{X: math.Sqrt(x) / n, Y: math.Sqrt(y) / n}
}

// robustMean returns Huber's mean of v (tuning 2 robust sigma) and its standard
// deviation from the scatter.
func robustMean(v []float64) (m, sigma float64) {
	s := append([]float64(nil), v...)
	m = robust.Median(s)
	for i, x := range v {
		s[i] = math.Abs(x - m)
	}
	scale := robust.Scatter(s) + 1e-12
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
