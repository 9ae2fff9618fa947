package telescope

import (
	"math"
	"math/rand/v2"

	"halocue/vision/frame"
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

// sensor turns light into a frame, with photon noise, read noise, clipping and rounding
// to whole numbers.
type sensor struct {
	c    Camera
	back float64
	rng  *rand.Rand
	bell []float32 // normal deviates to cut runs out of
	sky  []float32 // a long stretch of sky as the camera sees it, ADU
	hot  []hotPixel

	white, perStep, read2 float64
}

type hotPixel struct {
	at  int
	adu float32
}

func newSensor(n Night, r *rand.Rand) *sensor {
	c := n.Camera
	s := &sensor{c: c, back: n.Sky.Back, rng: r}
	s.white, s.perStep, s.read2 = math.Exp2(float64(c.Bits))-1, 1/quantum(c), sq(c.Read)
	s.bell = make([]float32, 1<<16+c.Width)
	for i := range s.bell {
		s.bell[i] = float32(r.NormFloat64())
	}
	s.sky = make([]float32, max(1<<18, 8*c.Width)+7919)
	for i := range s.sky {
		s.sky[i] = s.pixel(s.back, r.NormFloat64())
	}
	h := chance(n.Seed, hotStream)
	for range n.Camera.Hot {
		s.hot = append(s.hot, hotPixel{
			at:  h.IntN(n.Camera.Width * n.Camera.Height),
			adu: float32(math.Round(uniform(h, 0.3, 1) * s.white)),
		})
	}
	return s
}

// pixel exposes one pixel to a mean of e electrons and reads it out, ADU. bell is
// a normal deviate. Photons are counted one by one where they are few.
func (s *sensor) pixel(e, bell float64) float32 {
	v := e
	if e > 20 {
		v += math.Sqrt(e+s.read2) * bell
	} else {
		v = s.poisson(e) + s.c.Read*bell
	}
	v = v*s.perStep + 0.5
	if v < 0 {
		return 0
	}
	if v >= s.white {
		return float32(s.white)
	}
	return float32(int(v))
}

// poisson draws a small number of photons (Knuth).
func (s *sensor) poisson(mean float64) float64 {
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
	f.White = float32(s.white)
	for y := range f.Height {
		// Rows of sky are cut out of the stretch anywhere, so no two frames are alike.
		row := f.Pix[y*f.Width : (y+1)*f.Width]
		from := s.rng.IntN(len(s.sky) - f.Width)
		copy(row, s.sky[from:])
		if y < p.y0 || y >= p.y0+p.h {
			continue
		}
		bell := s.bell[s.rng.IntN(len(s.bell)-p.w):]
		for i, e := range p.e[(y-p.y0)*p.w : (y-p.y0+1)*p.w] {
			if e > 0 {
				row[p.x0+i] = s.pixel(float64(e)+s.back, float64(bell[i]))
			}
		}
	}
	for _, h := range s.hot {
		f.Pix[h.at] = h.adu
	}
}
