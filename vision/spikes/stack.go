package spikes

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
)

// Stack is the mean of several frames, star on star: air and noise even out, and
// the spikes stay.
type Stack struct {
	sum    frame.Frame
	count  []float32
	first  star
	frames int
	why    Why // of the last frame without a star
}

// Add adds a frame, moved by whole pixels; a frame without a star in focus is left
// out. It is an error only if the frame is not as large as those before.
func (s *Stack) Add(f *frame.Frame) error {
	if s.frames > 0 && (f.Width != s.sum.Width || f.Height != s.sum.Height) {
		return fmt.Errorf("stacking %d by %d pixels on %d by %d: take frames of one size", f.Width, f.Height, s.sum.Width, s.sum.Height)
	}
	star, why := find(f)
	if why != "" {
		s.why = why
		return nil
	}
	if s.frames == 0 {
		s.sum = *frame.New(f.Width, f.Height)
		s.sum.White = f.White
		s.count = make([]float32, len(f.Pix))
		s.first = star
	}
	s.frames++
	d := r2.Sub(star.at, s.first.at)
	dx, dy := whole(d.X), whole(d.Y)
	for y := max(0, -dy); y < min(f.Height, f.Height-dy); y++ {
		for x := max(0, -dx); x < min(f.Width, f.Width-dx); x++ {
			to := y*f.Width + x
			s.sum.Pix[to] += f.Pix[(y+dy)*f.Width+x+dx]
			s.count[to]++
		}
	}
	return nil
}

func whole(v float64) int {
	if v < 0 {
		return int(v - 0.5)
	}
	return int(v + 0.5)
}

// Frames returns how many frames are in the stack.
func (s *Stack) Frames() int { return s.frames }

// Measure measures the mean of the stack. Where no frame could be used, it returns the
// reason of the last one.
func (s *Stack) Measure() Result {
	if s.frames == 0 {
		if s.why == "" {
			return Result{Why: Dark}
		}
		return Result{Why: s.why}
	}
	m := s.sum
	m.Pix = make([]float32, len(s.sum.Pix))
	for i, v := range s.sum.Pix {
		if m.Pix[i] = v / max(s.count[i], 1); s.count[i] == 0 { // moved in from beyond the frame
			m.Pix[i] = float32(s.first.sky)
		}
	}
	r := measure(&m)
	doubt := speckles / math.Sqrt(float64(s.frames))
	for i := range r.Spikes {
		k := &r.Spikes[i]
		k.Sigma = math.Hypot(k.Sigma, doubt)
		if k.Double {
			k.SplitSigma = math.Hypot(k.SplitSigma, doubt)
		} else {
			k.Limit = max(k.Limit, 4*doubt)
		}
	}
	return r
}

// speckles is the error of a split, radians, by the air's speckles in one short exposure,
// which brighten one of a spike's two lines and not the other. It falls with the root of
// the number of frames (measured: BenchmarkSplitInAir).
const speckles = 0.013
