package peephole

import (
	"math"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// picture is a frame with its noise and its range of brightness.
type picture struct {
	*frame.Frame
	noise  float64 // SD of a pixel
	lo, hi float64 // 2 and 98 per cent of the pixels are darker
	white  float64
}

func newPicture(f *frame.Frame) *picture {
	p := &picture{Frame: f, noise: noiseOf(f), white: float64(f.White)}
	sample := make([]float32, 0, 1<<14)
	step := max(1, len(f.Pix)/(1<<14))
	for i := step / 2; i < len(f.Pix); i += step {
		sample = append(sample, f.Pix[i])
	}
	at := func(q float64) float64 { return float64(robust.Quickselect(sample, int(q*float64(len(sample)-1)))) }
	p.lo, p.hi = at(0.02), at(0.98)
	return p
}

// noiseOf estimates the noise from the median of second differences along rows, since
// edges are few. The SD of a - 2b + c is sqrt(6) times that of a pixel.
func noiseOf(f *frame.Frame) float64 {
	var d []float64
	step := max(1, f.Height/60)
	for y := step / 2; y < f.Height; y += step {
		row := f.Pix[y*f.Width : (y+1)*f.Width]
		for x := 3; x+3 < f.Width; x += 5 {
			d = append(d, math.Abs(float64(row[x-2]-2*row[x]+row[x+2])))
		}
	}
	if len(d) == 0 {
		return 0
	}
	return math.Max(robust.Scatter(d)/math.Sqrt(6), 0.3) // of 8-bit steps
}

// mean returns the mean brightness between two circles about a point, and from how many
// samples.
func (p *picture) mean(x, y, r0, r1 float64) (float64, int) {
	sum, n := 0.0, 0
	for i := range 48 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 48)
		for k := range 6 {
			r := r0 + (r1-r0)*(float64(k)+0.5)/6
			if v, ok := p.At(x+r*c, y+r*s); ok {
				sum, n = sum+v, n+1
			}
		}
	}
	return sum / math.Max(float64(n), 1), n
}

// small returns the picture at a fraction of its size, averaged, so that it is at
// most width wide, and the factor.
func (p *picture) small(width int) (*picture, int) {
	k := max(1, (p.Width+width-1)/width)
	q := &picture{Frame: frame.New(p.Width/k, p.Height/k), lo: p.lo, hi: p.hi, white: p.white, noise: p.noise / float64(k)}
	q.Average(p.Frame, 0, 0, k)
	return q, k
}
