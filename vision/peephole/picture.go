package peephole

import (
	"math"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// picture is a frame with its noise and its range of brightness.
type picture struct {
	w, h   int
	pix    []float32
	noise  float64 // SD of a pixel
	lo, hi float64 // 2 and 98 per cent of the pixels are darker
	white  float64
}

func newPicture(f *frame.Frame) *picture {
	p := &picture{w: f.Width, h: f.Height, pix: f.Pix, white: float64(f.White)}
	sample := make([]float32, 0, 1<<14)
	step := max(1, len(f.Pix)/(1<<14))
	for i := step / 2; i < len(f.Pix); i += step {
		sample = append(sample, f.Pix[i])
	}
	at := func(q float64) float64 { return float64(robust.Quickselect(sample, int(q*float64(len(sample)-1)))) }
	p.lo, p.hi = at(0.02), at(0.98)
	p.noise = noiseOf(f)
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
	return math.Max(1.4826*robust.Median(d)/math.Sqrt(6), 0.3) // of 8-bit steps
}

// at returns the brightness between pixels, and false outside the frame.
func (p *picture) at(x, y float64) (float64, bool) {
	if !(x >= 0 && y >= 0 && x <= float64(p.w-1) && y <= float64(p.h-1)) {
		return 0, false
	}
	i, j := min(int(x), p.w-2), min(int(y), p.h-2)
	u, v := x-float64(i), y-float64(j)
	k := j*p.w + i
	a, b, c, d := float64(p.pix[k]), float64(p.pix[k+1]), float64(p.pix[k+p.w]), float64(p.pix[k+p.w+1])
	return (a*(1-u)+b*u)*(1-v) + (c*(1-u)+d*u)*v, true
}

// mean returns the mean brightness of the ring-shaped area from r0 to r1 about a
// point, and the number of samples in it.
func (p *picture) mean(x, y, r0, r1 float64) (float64, int) {
	sum, n := 0.0, 0
	for i := range 48 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 48)
		for k := range 6 {
			r := r0 + (r1-r0)*(float64(k)+0.5)/6
			if v, ok := p.at(x+r*c, y+r*s); ok {
				sum, n = sum+v, n+1
			}
		}
	}
	return sum / math.Max(float64(n), 1), n
}

// small returns the picture at a fraction of its size, averaged, so that it is at
// most width wide, and the factor.
func (p *picture) small(width int) (*picture, int) {
	k := max(1, (p.w+width-1)/width)
	q := &picture{w: p.w / k, h: p.h / k, lo: p.lo, hi: p.hi, white: p.white, noise: p.noise / float64(k)}
	q.pix = make([]float32, q.w*q.h)
	for y := range q.h {
		for x := range q.w {
			sum := float32(0)
			for j := range k {
				for _, v := range p.pix[(y*k+j)*p.w+x*k:][:k] {
					sum += v
				}
			}
			q.pix[y*q.w+x] = sum / float32(k*k)
		}
	}
	return q, k
}
