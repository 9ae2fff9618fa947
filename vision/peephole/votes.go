package peephole

import (
	"math"
	"slices"
)

// edgel is a pixel at an edge: where it is, and the unit vector toward the bright.
type edgel struct{ x, y, ux, uy float64 }

// edgels finds the pixels at edges, by central differences over two pixels; of a
// wide edge only the steepest pixels count.
func (p *picture) edgels(least float64) []edgel {
	size := make([]float32, p.Width*p.Height)
	diff := func(i int) (gx, gy float32) {
		w := p.Width
		gx = (p.Pix[i+1-w] + 2*p.Pix[i+1] + p.Pix[i+1+w] - p.Pix[i-1-w] - 2*p.Pix[i-1] - p.Pix[i-1+w]) / 4
		gy = (p.Pix[i+w-1] + 2*p.Pix[i+w] + p.Pix[i+w+1] - p.Pix[i-w-1] - 2*p.Pix[i-w] - p.Pix[i-w+1]) / 4
		return gx, gy
	}
	for y := 1; y+1 < p.Height; y++ {
		for x := 1; x+1 < p.Width; x++ {
			gx, gy := diff(y*p.Width + x)
			size[y*p.Width+x] = float32(math.Hypot(float64(gx), float64(gy)))
		}
	}
	var out []edgel
	for y := 2; y+2 < p.Height; y++ {
		for x := 2; x+2 < p.Width; x++ {
			i := y*p.Width + x
			s := size[i]
			if float64(s) < least {
				continue
			}
			gx, gy := diff(i)
			step := 1
			if math.Abs(float64(gy)) > math.Abs(float64(gx)) {
				step = p.Width
			}
			if size[i-step] > s || size[i+step] > s {
				continue
			}
			out = append(out, edgel{float64(x), float64(y), float64(gx / s), float64(gy / s)})
		}
	}
	return out
}

// votes is a map of where the centres of circles may be: each edgel votes along
// its normal (the circle Hough transform with gradients; Kimme, Ballard and
// Sklansky, Comm. ACM 18, 120, 1975, from memory).
type votes struct {
	w, h int
	n    []float32
}

// poll lets the edgels vote: toward the bright side (sense +1), for discs brighter
// than what is about them, away from it (-1), or both ways (0).
func poll(edges []edgel, w, h int, sense, rMin, rMax float64) *votes {
	v := &votes{w: w, h: h, n: make([]float32, w*h)}
	vote := func(e edgel, sense float64) {
		for r := rMin; r < rMax; r++ {
			x, y := int(e.x+sense*r*e.ux+0.5), int(e.y+sense*r*e.uy+0.5)
			if x < 0 || y < 0 || x >= w || y >= h {
				break
			}
			v.n[y*w+x]++
		}
	}
	for _, e := range edges {
		if sense >= 0 {
			vote(e, 1)
		}
		if sense <= 0 {
			vote(e, -1)
		}
	}
	v.smooth()
	return v
}

// smooth sums over 5 x 5 pixels.
func (v *votes) smooth() {
	out := make([]float32, len(v.n))
	for _, step := range []int{1, v.w} {
		for y := 2; y+2 < v.h; y++ {
			for x := 2; x+2 < v.w; x++ {
				i := y*v.w + x
				out[i] = v.n[i-2*step] + v.n[i-step] + v.n[i] + v.n[i+step] + v.n[i+2*step]
			}
		}
		v.n, out = out, v.n
	}
}

// peak returns the best place; ok is false where nothing voted.
func (v *votes) peak() (at [2]float64, ok bool) {
	best := float32(0)
	for y := 3; y+3 < v.h; y++ {
		for x := 3; x+3 < v.w; x++ {
			if n := v.n[y*v.w+x]; n > best {
				best, at = n, [2]float64{float64(x), float64(y)}
			}
		}
	}
	return at, best > 0
}

// looksAt reports whether the edgel's normal passes a place within so many px, on the
// edgel's bright side (sense +1) or dark side (-1); 0 is either.
func (e edgel) looksAt(at [2]float64, sense, within float64) bool {
	dx, dy := at[0]-e.x, at[1]-e.y
	return math.Abs(dx*e.uy-dy*e.ux) < within && sense*(dx*e.ux+dy*e.uy) >= 0
}

// radii returns the radii of circles about a centre, those with most of their outline
// first. It counts the edgels whose normal passes the centre, by their distance.
func radii(edges []edgel, at [2]float64, sense, rMin, rMax float64) []float64 {
	count := make([]float64, int(rMax)+3)
	for _, e := range edges {
		dx, dy := at[0]-e.x, at[1]-e.y
		r := math.Hypot(dx, dy)
		toward := dx*e.ux + dy*e.uy
		if r < rMin || r >= rMax || sense != 0 && sense*toward < 0.94*r || math.Abs(toward) < 0.94*r {
			continue
		}
		count[int(r)] += 1 / r
	}
	wide := make([]float64, len(count))
	for i := 2; i+2 < len(count); i++ {
		wide[i] = count[i-2] + count[i-1] + count[i] + count[i+1] + count[i+2]
	}
	var out []float64
	for i := 2; i+2 < len(wide); i++ {
		if wide[i] > 0.8 && wide[i] >= slices.Max(wide[max(i-5, 0):min(i+6, len(wide))]) {
			out = append(out, float64(i)+0.5)
		}
	}
	slices.SortFunc(out, func(a, b float64) int {
		if wide[int(a)] > wide[int(b)] {
			return -1
		}
		return 1
	})
	return out[:min(len(out), 4)]
}
