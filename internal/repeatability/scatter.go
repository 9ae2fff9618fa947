// Package repeatability measures how far a result changes when the camera or tool is
// turned, pushed, or taken out and put back into the focuser, and what that means.
//
// Lengths are in the unit of the looks: mm at the focus, or pixels.
package repeatability

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Look is one result, after one seating.
type Look struct {
	At    r2.Vec
	Sigma float64 // of the measuring itself, per axis; 0 is not known
}

// Scatter is how looks scatter about their mean.
type Scatter struct {
	Looks int
	Mean  r2.Vec
	SD    float64 // of one look, per axis, both pooled, with n-1
	Noise float64 // what of SD the measuring itself explains: RMS of the looks' sigmas
	Worst float64 // largest distance of a look from the mean

	// Bound is the distance from the mean within which the next seating falls with
	// 99 % probability; it is wide for few looks. Least is a distance that the 99 %
	// distance of endlessly many looks exceeds with 95 % confidence. Bound is +Inf and
	// Least is 0 for fewer than 3 looks.
	Bound, Least float64

	shape float64 // degrees of freedom of one look: 2 for a round scatter, 1 for a line
}

const (
	certain = 0.99
	fairly  = 0.95
	fewest  = 3
)

// Spread returns the scatter of the looks.
//
// A seating that rocks in one direction scatters along a line, which reaches farther than
// a round scatter of the same size. So the squared distance is taken as g times
// chi-squared of h degrees of freedom (Box, Ann. Math. Stat. 25, 290, 1954, from
// memory), h = (sum of variances)^2 / sum of their squares, along the principal
// axes: between 1 and 2. With the variance itself measured on h (n-1) degrees of
// freedom that gives Bound^2 = (1 + 1/n) T F(0.99; h, h (n-1)), T the sum of
// variances; for h = 2 it is the prediction circle of the bivariate normal.
func Spread(looks []Look) Scatter {
	n := len(looks)
	s := Scatter{Looks: n, Bound: math.Inf(1)}
	if n == 0 {
		return s
	}
	for _, l := range looks {
		s.Mean = r2.Add(s.Mean, r2.Scale(1/float64(n), l.At))
		s.Noise += l.Sigma * l.Sigma / float64(n)
	}
	s.Noise = math.Sqrt(s.Noise)
	data := mat.NewDense(n, 2, nil)
	for i, l := range looks {
		s.Worst = max(s.Worst, r2.Norm(r2.Sub(l.At, s.Mean)))
		data.SetRow(i, []float64{l.At.X - s.Mean.X, l.At.Y - s.Mean.Y})
	}
	if n < fewest {
		return s
	}
	var c mat.SymDense
	stat.CovarianceMatrix(&c, data, nil)
	total := c.At(0, 0) + c.At(1, 1)
	s.SD = math.Sqrt(total / 2)
	s.shape = 2
	if total > 0 {
		s.shape = total * total / (c.At(0, 0)*c.At(0, 0) + 2*c.At(0, 1)*c.At(0, 1) + c.At(1, 1)*c.At(1, 1))
	}
	s.Bound = s.predictionRadius(n, 1+1/float64(n))
	free := s.shape * float64(n-1)
	chi := distuv.ChiSquared{K: free}.Quantile(fairly)
	s.Least = math.Sqrt(total * free / chi * distuv.ChiSquared{K: s.shape}.Quantile(certain) / s.shape)
	return s
}

// predictionRadius returns the 99 % distance of something whose variance is times that of a
// look, where n looks told the variance.
func (s Scatter) predictionRadius(n int, times float64) float64 {
	f := distuv.F{D1: s.shape, D2: s.shape * float64(n-1)}.Quantile(certain)
	return math.Sqrt(2 * s.SD * s.SD * times * f)
}

// Verdict says whether a focuser can be trusted.
type Verdict string

// The verdicts. Other programs read them.
const (
	Trusted    Verdict = "trusted"     // the next seating is within Share of the tolerance
	WithCare   Verdict = "with-care"   // within the tolerance, but it eats most of it
	NotTrusted Verdict = "not-trusted" // it wanders by more than the tolerance
	CannotTell Verdict = "cannot-tell" // too few looks, or too noisy ones
)

// Share is the part of a tolerance that the tool may take for itself: the rule of
// gauge studies that beyond 30 % a gauge is not fit (AIAG, Measurement Systems
// Analysis, from memory).
const Share = 0.3

// Judge compares the scatter with a tolerance, a distance in the looks' unit. NotTrusted
// is returned only with 95 % confidence, and not where the errors of measuring alone
// explain the scatter.
func (s Scatter) Judge(tolerance float64) Verdict {
	switch {
	case s.Looks < fewest:
		return CannotTell
	case s.Bound <= Share*tolerance:
		return Trusted
	case s.Bound <= tolerance:
		return WithCare
	case s.Least > tolerance && s.SD > 1.5*s.Noise:
		return NotTrusted
	}
	return CannotTell
}

// most is the largest number of looks that is recommended (judgement).
const most = 200

// Needed returns how many seatings must be averaged for their mean to be within
// Share of the tolerance with 99 % probability, if they scatter like these; 0
// where not even 200 would do, or where these are too few to tell.
func (s Scatter) Needed(tolerance float64) int {
	if s.Looks < fewest {
		return 0
	}
	for n := fewest; n <= most; n++ {
		if s.predictionRadius(n, 1/float64(n)) <= Share*tolerance {
			return n
		}
	}
	return 0
}
