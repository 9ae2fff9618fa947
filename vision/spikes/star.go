package spikes

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// star is where the brightest star is.
type star struct {
	at         r2.Vec
	core       float64 // radius of what is above half of it, px
	sky, noise float64
	room       float64 // to the nearest edge of the frame, px
}

// find finds the star with most light.
func find(f *frame.Frame) (s star, why Why) {
	if f.Width < 2*leastRoom || f.Height < 2*leastRoom {
		return s, AtEdge
	}
	s.sky, s.noise = skyOf(f)
	if f.White > 0 && s.sky > 0.5*float64(f.White) {
		return s, TooBright
	}
	x, y, top := brightest(f)
	top -= s.sky
	if top < 20*s.noise || top < 0.02*float64(f.White) {
		return s, Dark
	}
	region := flood(f, x, y, s.sky+top/2)
	for _, i := range region {
		s.at = r2.Add(s.at, r2.Vec{X: float64(i % f.Width), Y: float64(i / f.Width)})
	}
	n := float64(len(region))
	s.at = r2.Scale(1/n, s.at)
	s.core = math.Sqrt(n / math.Pi)
	s.room = min(s.at.X, s.at.Y, float64(f.Width-1)-s.at.X, float64(f.Height-1)-s.at.Y)
	middle := float64(f.Pix[int(s.at.Y+0.5)*f.Width+int(s.at.X+0.5)]) - s.sky
	switch {
	case s.room < leastRoom:
		return s, AtEdge
	case middle < top/2, s.core > 0.06*float64(min(f.Width, f.Height)):
		return s, Defocused
	}
	return s, ""
}

// skyOf returns the median and the RMS scatter of the pixels below and about it.
func skyOf(f *frame.Frame) (sky, noise float64) {
	var some []float32
	for i := 0; i < len(f.Pix); i += max(1, len(f.Pix)/20000) | 1 {
		some = append(some, f.Pix[i])
	}
	sky = float64(robust.Median(some))
	return sky, max(sky-float64(robust.Quickselect(some, len(some)*16/100)), 0.3)
}

// brightest returns the brightest place, as the median of a pixel and its four
// neighbours has it: a hot pixel is no star.
func brightest(f *frame.Frame) (x, y int, top float64) {
	w := f.Width
	for j := 1; j < f.Height-1; j++ {
		for i := 1; i < w-1; i++ {
			at := j*w + i
			if float64(f.Pix[at]) <= top {
				continue
			}
			cell := [5]float32{f.Pix[at], f.Pix[at-1], f.Pix[at+1], f.Pix[at-w], f.Pix[at+w]}
			slices.Sort(cell[:])
			if v := float64(cell[2]); v > top {
				x, y, top = i, j, v
			}
		}
	}
	return x, y, top
}

// flood returns the pixels above a level that hang together with (x, y).
func flood(f *frame.Frame, x, y int, level float64) []int {
	seen := map[int]bool{y*f.Width + x: true}
	region := []int{y*f.Width + x}
	for k := 0; k < len(region); k++ {
		i, j := region[k]%f.Width, region[k]/f.Width
		for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			u, v := i+d[0], j+d[1]
			at := v*f.Width + u
			if u < 0 || v < 0 || u >= f.Width || v >= f.Height || seen[at] || float64(f.Pix[at]) < level {
				continue
			}
			seen[at] = true
			region = append(region, at)
		}
	}
	return region
}
