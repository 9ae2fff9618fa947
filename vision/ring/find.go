package ring

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// finder finds patches of light in a whole frame. It owns its memory.
type finder struct {
	binned binned
	smooth []float64
	mark   []int32
	order  []int32
	some   []float64
	list   []blob
	found  []patch
}

// patch is a place to look for a ring: px of the frame.
type patch struct {
	Circle
	onEdge bool // it reaches the frame's edge
	spread spread
}

// darkSteps is the largest number of grey steps of a dark frame. Its noise has few steps,
// and so looks like a plateau.
const darkSteps = 64

// candidates is the number of patches that are tried.
const candidates = 3

// detect lists the patches with most light. The list is valid until the next call.
func (d *finder) detect(f *frame.Frame) (list []patch, s detection, why Why) {
	if f.Width < 24 || f.Height < 24 {
		return nil, s, NoRing
	}
	t := &d.binned
	t.make(f)
	s.clip = clipLevel(t.bright(f), f.White)
	if s.clip > darkSteps && fractionAbove(t.pix, s.clip) > 0.5 {
		return nil, s, TooBright
	}
	flood := medianOf(t.pix, &d.some)
	t.level()
	n := t.w * t.h
	if len(d.smooth) < n {
		d.smooth, d.mark, d.order = make([]float64, n), make([]int32, n), make([]int32, n)
	}
	smooth := d.smooth[:n]
	t.smoothed(smooth)
	s.noise = d.pixelNoise(f)
	x0, y0 := f.Centre()
	s.sky = plane3{x0, y0, t.sky[0], t.sky[1] / float64(t.w*t.bin), t.sky[2] / float64(t.h*t.bin)}

	// A mean of nine squares over six of its own sigma; and over two grey steps,
	// or the wrinkles of compression would count.
	floor := max(2*t.noise, 0.002*float64(f.White))
	if f.White <= 255 {
		floor = max(floor, 2)
	}
	d.some = d.some[:0]
	for _, v := range smooth {
		if v > floor {
			d.some = append(d.some, v)
		}
	}
	if len(d.some) < 4 {
		if f.White > 0 && flood > 0.5*float64(f.White) {
			return nil, s, TooBright
		}
		return nil, s, Dark
	}
	// The level follows the light of most lit squares, not the brightest speckle.
	d.list, d.order = t.blobs(max(0.3*robust.Quantile(d.some, 0.9), floor), smooth, d.mark[:n], d.order, d.list)
	if len(d.list) == 0 {
		return nil, s, Dark
	}
	d.found = d.found[:0]
	for _, b := range d.list[:min(candidates, len(d.list))] {
		g := b.patch(t)
		g.spread = t.spreadOf(d.order[b.from:b.till])
		d.found = append(d.found, g)
	}
	b := d.list[0]
	s.star = r2.Vec{X: (b.x+0.5)*float64(t.bin) - 0.5, Y: (b.y+0.5)*float64(t.bin) - 0.5}
	s.seen = true
	return d.found, s, ""
}

// patch returns the circle that a blob suggests: its box.
func (b *blob) patch(t *binned) patch {
	k := float64(t.bin)
	return patch{
		Circle: Circle{
			X: float64(b.x0+b.x1+1)/2*k - 0.5, Y: float64(b.y0+b.y1+1)/2*k - 0.5,
			Radius: float64(max(b.x1-b.x0, b.y1-b.y0)+1) / 2 * k,
		},
		onEdge: b.x0 <= 0 || b.y0 <= 0 || b.x1 >= t.w-1 || b.y1 >= t.h-1,
	}
}

func fractionAbove(v []float64, level float64) float64 {
	n := 0
	for _, x := range v {
		if x >= level {
			n++
		}
	}
	return float64(n) / float64(max(1, len(v)))
}

// medianOf returns the median of a sample of v, which stays as it is.
func medianOf(v []float64, some *[]float64) float64 {
	stride := max(1, len(v)/skySamples) | 1
	s := (*some)[:0]
	for i := 0; i < len(v); i += stride {
		s = append(s, v[i])
	}
	*some = s
	return robust.Median(s)
}

// pixelNoise estimates the RMS of a sky pixel from the mean of the lower three quarters
// of the differences of neighbours. A mean also works where, with 8 bits, most of the
// differences are 0.
func (d *finder) pixelNoise(f *frame.Frame) float64 {
	stride := max(1, len(f.Pix)/8192) | 1
	d.some = d.some[:0]
	for i := 1; i < len(f.Pix); i += stride {
		d.some = append(d.some, math.Abs(float64(f.Pix[i]-f.Pix[i-1])))
	}
	cut := robust.Quantile(d.some, 0.75)
	sum, n := 0.0, 0
	for _, v := range d.some {
		if v <= cut {
			sum, n = sum+v, n+1
		}
	}
	// For a Gaussian the mean of the lower three quarters of |d| is 0.5146 sigma.
	return sum / float64(max(n, 1)) / 0.5146 / math.Sqrt2
}
