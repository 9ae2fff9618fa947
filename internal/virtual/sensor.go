package virtual

import (
	"math"
	"math/rand/v2"

	"halocue/internal/frame"
)

// patch is the part of the frame that starlight reaches: electrons per pixel in
// the mean, without sky, row by row from pixel (x0, y0).
type patch struct {
	x0, y0, w, h int
	e            []float32
}

// reset makes p an empty patch that covers the circle about (x, y), px, as far as
// it lies in the frame.
func (p *patch) reset(x, y, radius float64, c Camera) {
	clamp := func(v float64, hi int) int { return int(math.Min(math.Max(v, 0), float64(hi))) }
	p.x0, p.y0 = clamp(math.Floor(x-radius), c.Width), clamp(math.Floor(y-radius), c.Height)
	p.w = clamp(math.Ceil(x+radius)+1, c.Width) - p.x0
	p.h = clamp(math.Ceil(y+radius)+1, c.Height) - p.y0
	n := p.w * p.h
	if cap(p.e) < n {
		p.e = make([]float32, n)
	}
	p.e = p.e[:n]
	clear(p.e)
}

// sensor turns light into a frame: photon noise, read noise, clipping and
// whole numbers.
type sensor struct {
	c    Camera
	back float64
	rng  *rand.Rand
	sky  []float32 // a long stretch of sky as the camera sees it, ADU
	hot  []hotPixel
}

type hotPixel struct {
	at  int
	adu float32
}

func newSensor(n Night, r *rand.Rand) *sensor {
	s := &sensor{c: n.Camera, back: n.Sky.Back, rng: r}
	// Rows are cut out of it anywhere, so no two frames are alike.
	s.sky = make([]float32, max(1<<18, 8*n.Camera.Width)+7919)
	for i := range s.sky {
		s.sky[i] = s.pixel(s.back)
	}
	h := chance(n.Seed, hotStream)
	for range n.Camera.Hot {
		s.hot = append(s.hot, hotPixel{
			at:  h.IntN(n.Camera.Width * n.Camera.Height),
			adu: float32(math.Round(uniform(h, 0.3, 1) * float64(s.white()))),
		})
	}
	return s
}

// white returns the clipping level, ADU.
func (s *sensor) white() float32 { return float32(math.Exp2(float64(s.c.Bits)) - 1) }

// pixel exposes one pixel to a mean of e electrons and reads it out, ADU.
func (s *sensor) pixel(e float64) float32 {
	v := s.poisson(e) + s.c.Read*s.rng.NormFloat64()
	v = math.Floor(v/quantum(s.c) + 0.5)
	return float32(math.Min(math.Max(v, 0), float64(s.white())))
}

// poisson draws a number of photons; above 30 as a Gaussian.
func (s *sensor) poisson(mean float64) float64 {
	if mean > 30 {
		return mean + math.Sqrt(mean)*s.rng.NormFloat64()
	}
	limit, p, k := math.Exp(-mean), s.rng.Float64(), 0.0
	for p > limit {
		p *= s.rng.Float64()
		k++
	}
	return k
}

// expose fills the frame with the sky and the star's patch.
func (s *sensor) expose(p *patch, f *frame.Frame) {
	f.Resize(s.c.Width, s.c.Height)
	f.White = s.white()
	for y := range f.Height {
		row := f.Pix[y*f.Width : (y+1)*f.Width]
		from := s.rng.IntN(len(s.sky) - f.Width)
		copy(row, s.sky[from:])
		if y < p.y0 || y >= p.y0+p.h {
			continue
		}
		for i, e := range p.e[(y-p.y0)*p.w : (y-p.y0+1)*p.w] {
			if e > 0 {
				row[p.x0+i] = s.pixel(float64(e) + s.back)
			}
		}
	}
	for _, h := range s.hot {
		f.Pix[h.at] = h.adu
	}
}
