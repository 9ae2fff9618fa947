package ring

import (
	"cmp"
	"math"
	"slices"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// binned is a frame reduced by averaging squares of pixels, without the sky.
type binned struct {
	w, h  int
	bin   int
	pix   []float64 // light over the sky, ADU
	sky   [3]float64
	noise float64 // RMS of a binned pixel of sky
	some  []float64
	tops  []float32 // the brightest pixel of each square
	lit   []float32 // the pixels of the squares that have bright ones
}

// binnedSide is about how many squares the longer side has.
const binnedSide = 240

// make reduces f. The brightest pixel of each square is left out, which
// removes hot pixels.
func (t *binned) make(f *frame.Frame) {
	t.bin = max(1, (max(f.Width, f.Height)+binnedSide-1)/binnedSide)
	b := t.bin
	t.w, t.h = f.Width/b, f.Height/b
	n := t.w * t.h
	t.pix, t.tops = slices.Grow(t.pix[:0], n)[:n], slices.Grow(t.tops[:0], n)[:n]
	for j := range t.h {
		for i := range t.w {
			var sum float64
			top := float32(-1)
			for y := j * b; y < (j+1)*b; y++ {
				for _, v := range f.Pix[y*f.Width+i*b : y*f.Width+(i+1)*b] {
					sum += float64(v)
					top = max(top, v)
				}
			}
			t.tops[j*t.w+i] = top
			if b > 1 {
				t.pix[j*t.w+i] = (sum - float64(top)) / float64(b*b-1)
			} else {
				t.pix[j*t.w+i] = sum
			}
		}
	}
}

// bright returns the pixels of those squares of f that hold one at least half as bright
// as the brightest of all. They show whether light is cut at a ceiling, without another
// pass through a large frame. Valid until the next call.
func (t *binned) bright(f *frame.Frame) []float32 {
	half := float32(0)
	for _, v := range t.tops {
		half = max(half, v/2)
	}
	squares := 0
	for _, v := range t.tops {
		if v >= half {
			squares++
		}
	}
	// Room is made once: of a large frame that is bright all over it is as much as the frame.
	t.lit = slices.Grow(t.lit[:0], squares*t.bin*t.bin)
	for k, v := range t.tops {
		if v < half {
			continue
		}
		x, y := k%t.w*t.bin, k/t.w*t.bin
		for r := y; r < y+t.bin; r++ {
			t.lit = append(t.lit, f.Pix[r*f.Width+x:r*f.Width+x+t.bin]...)
		}
	}
	return t.lit
}

// skySamples is the number of squares from which the sky is estimated.
const skySamples = 4096

// level finds the sky, a plane, by least squares over the squares that are not brighter
// than it, and subtracts it. noise is the RMS of the remainder below it.
func (t *binned) level() {
	stride := max(1, len(t.pix)/skySamples) | 1
	t.some = t.some[:0]
	for k := 1; k < len(t.pix); k += stride {
		if k%t.w != 0 {
			t.some = append(t.some, math.Abs(t.pix[k]-t.pix[k-1]))
		}
	}
	noise := max(robust.Scatter(t.some)/math.Sqrt2, 1e-3)
	t.some = t.some[:0]
	for k := 0; k < len(t.pix); k += stride {
		t.some = append(t.some, t.pix[k])
	}
	low := robust.Quantile(t.some, 0.05)
	t.sky = [3]float64{robust.Quantile(t.some, 0.3), 0, 0}
	t.noise = max(3*noise, 2*(t.sky[0]-low))
	for range 8 {
		var h robust.Equations
		for k := 0; k < len(t.pix); k += stride {
			x, y := t.place(k)
			v := t.pix[k]
			if d := v - t.at(x, y); d > 2.5*t.noise || d < -5*t.noise {
				continue
			}
			h.Add(3, 1, v, [robust.MaxTerms]float64{1, x, y})
		}
		s, ok := h.Solve(3)
		if !ok {
			break
		}
		t.sky = [3]float64(s[:3])
		t.some = t.some[:0]
		for k := 0; k < len(t.pix); k += stride {
			x, y := t.place(k)
			if d := t.pix[k] - t.at(x, y); d < 0 {
				t.some = append(t.some, -d)
			}
		}
		t.noise = max(noise, robust.Scatter(t.some))
	}
	for k := range t.pix {
		t.pix[k] -= t.at(t.place(k))
	}
}

// place returns where square k stands, -0.5 to 0.5 of the frame.
func (t *binned) place(k int) (x, y float64) {
	return float64(k%t.w)/float64(t.w) - 0.5, float64(k/t.w)/float64(t.h) - 0.5
}

func (t *binned) at(x, y float64) float64 { return t.sky[0] + t.sky[1]*x + t.sky[2]*y }

// blob is a connected patch of light in a binned frame.
type blob struct {
	flux       float64
	x, y       float64 // centroid, binned px
	x0, y0     int
	x1, y1     int // inclusive
	peak       float64
	from, till int // its pixels in finder.order
}

// blobs lists the patches above level, the one with most light first, and their
// pixels in order.
func (t *binned) blobs(level float64, smooth []float64, mark, order []int32, list []blob) ([]blob, []int32) {
	clear(mark)
	list = list[:0]
	order = order[:0]
	for s := range smooth {
		if smooth[s] < level || mark[s] != 0 {
			continue
		}
		b := blob{x0: t.w, y0: t.h, from: len(order)}
		id := int32(len(list) + 1)
		mark[s] = id
		order = append(order, int32(s))
		for k := b.from; k < len(order); k++ {
			q := int(order[k])
			i, j := q%t.w, q/t.w
			v := smooth[q]
			b.flux += v
			b.x += v * float64(i)
			b.y += v * float64(j)
			b.peak = max(b.peak, v)
			b.x0, b.x1 = min(b.x0, i), max(b.x1, i)
			b.y0, b.y1 = min(b.y0, j), max(b.y1, j)
			for dj := -1; dj <= 1; dj++ {
				for di := -1; di <= 1; di++ {
					x, y := i+di, j+dj
					if x < 0 || y < 0 || x >= t.w || y >= t.h {
						continue
					}
					n := y*t.w + x
					if mark[n] == 0 && smooth[n] >= level {
						mark[n] = id
						order = append(order, int32(n))
					}
				}
			}
		}
		b.till = len(order)
		b.x /= b.flux
		b.y /= b.flux
		list = append(list, b)
	}
	slices.SortFunc(list, func(a, b blob) int { return cmp.Compare(b.flux, a.flux) })
	return list, order
}

// smoothed returns the frame averaged over 3 x 3.
func (t *binned) smoothed(out []float64) {
	for j := range t.h {
		for i := range t.w {
			var s float64
			n := 0
			for y := max(0, j-1); y <= min(t.h-1, j+1); y++ {
				for x := max(0, i-1); x <= min(t.w-1, i+1); x++ {
					s += t.pix[y*t.w+x]
					n++
				}
			}
			out[j*t.w+i] = s / float64(n)
		}
	}
}
