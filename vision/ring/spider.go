package ring

import (
	"math"

	"halocue/vision/robust"
)

// freeVanes finds the vanes in the residuals of q and returns all parameters to be fitted.
func (f *fitter) freeVanes(q *params) []int {
	f.vanes = f.findVanes(q)
	copy(f.prior[pVane:], q[pVane:])
	free := append([]int(nil), allFree...)
	for k := range 2 * f.vanes {
		free = append(free, pVane+k)
	}
	return free
}

// findVanes looks for spider vanes in the residuals of a model without them: bars that
// run from the silhouette outward, darker than the ring. It puts them into q and returns
// their number.
//
// A bar of width w removes that much light from each circle round the silhouette, however
// far diffraction spreads it. So the missing light, summed across the bar, is its width.
func (f *fitter) findVanes(q *params) int {
	const dirs = 720
	var lack, count [dirs]float64
	s := q.shape(f.fresnel, 0)
	for i := range f.data {
		d := &f.data[i]
		if d.clipped {
			continue
		}
		x, y := s.pupilPoint((d.x-q[pX])/q[pR], (d.y-q[pY])/q[pR])
		x, y = x-s.sx, y-s.sy
		r := math.Hypot(x, y)
		edge := math.Hypot(x+s.sx, y+s.sy)
		if r < s.eps+0.1 || edge > 0.85 {
			continue
		}
		m := f.model[i] - q[pSky]
		if m < 0.2*q[pFlux] {
			continue
		}
		k := int((math.Atan2(y, x)/(2*math.Pi) + 1) * dirs)
		// Missing light in radii across: relative lack times radius per angle.
		e := (f.model[i] - d.v) / m
		lack[k%dirs] += min(max(e, -0.6), 0.6) * r
		count[k%dirs]++
	}
	// Mean lack per direction over the reach of a vane's fringes.
	half := int(math.Ceil(0.5 / math.Sqrt(s.n) / 0.6 * dirs / (2 * math.Pi)))
	half = max(half, 4)
	var smooth, sorted [dirs]float64
	for k := range dirs {
		var sum, n float64
		for d := -half; d <= half; d++ {
			j := (k + d + dirs) % dirs
			sum += lack[j]
			n += count[j]
		}
		if n > 0 {
			smooth[k] = sum / n
		}
		sorted[k] = smooth[k]
	}
	mid := robust.Median(sorted[:])
	for k := range dirs {
		sorted[k] = math.Abs(smooth[k] - mid)
	}
	spread := robust.Scatter(sorted[:])
	width := float64(2*half+1) * 2 * math.Pi / dirs
	found := 0
	for found < maxVanes {
		best := 0
		for k := range dirs {
			if smooth[k] > smooth[best] {
				best = k
			}
		}
		w := (smooth[best] - mid) * width
		if smooth[best]-mid < 5*spread || w < 0.003 {
			break
		}
		q[pVane+2*found] = (float64(best) + 0.5) * 2 * math.Pi / dirs
		q[pVane+2*found+1] = min(w, 0.1)
		found++
		for d := -3 * half; d <= 3*half; d++ {
			smooth[(best+d+2*dirs)%dirs] = math.Inf(-1)
		}
	}
	for k := found; k < maxVanes; k++ {
		q[pVane+2*k], q[pVane+2*k+1] = 0, 0
	}
	return found
}

// pupilPoint returns the zone of the pupil whose ray falls on (x, y), both in
// radii: coma undone by fixed-point iteration.
func (s *shape) pupilPoint(x, y float64) (px, py float64) {
	px, py = x, y
	for range 5 {
		r2, d := px*px+py*py, s.kx*px+s.ky*py
		px, py = x-(s.kx*(r2-3)+2*px*d)/3, y-(s.ky*(r2-3)+2*py*d)/3
	}
	return px, py
}
