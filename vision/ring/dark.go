package ring

import (
	"cmp"
	"math"
	"slices"

	"halocue/vision/frame"
)

// darkPlaces finds what is dark within a ring. It owns its memory.
type darkPlaces struct {
	mark  []bool
	queue []int32
	found []darkPlace
	list  []Circle
}

// darkPlace is a connected dark part of a ring.
type darkPlace struct {
	Circle         // its centroid, and the radius of a disc of its area, px
	area   float64 // px^2
}

const (
	darkWithin = 0.92 // ring radii: beyond, the ring's own edge is dark
	darkLeast  = 0.05 // ring radii: a smaller dark place is no shadow
	darkMost   = 4    // dark places that are tried
)

// find lists the dark places within ring, the largest first: connected pixels below
// half of the ring's light, in a picture averaged over 3 x 3. The list is valid
// until the next call.
func (d *darkPlaces) find(f *frame.Frame, sky *plane3, ring Circle, light float64) []Circle {
	d.list, d.found = d.list[:0], d.found[:0]
	x0, y0 := max(1, int(ring.X-ring.Radius)), max(1, int(ring.Y-ring.Radius))
	x1, y1 := min(f.Width-2, int(ring.X+ring.Radius)+1), min(f.Height-2, int(ring.Y+ring.Radius)+1)
	w, h := x1-x0+1, y1-y0+1
	if w < 4 || h < 4 || !(light > 0) {
		return nil
	}
	d.mark = slices.Grow(d.mark[:0], w*h)[:w*h]
	for j := range h {
		for i := range w {
			x, y := x0+i, y0+j
			var s float32
			for _, row := range [...]int{y - 1, y, y + 1} {
				p := f.Pix[row*f.Width+x-1:][:3]
				s += p[0] + p[1] + p[2]
			}
			v := float64(s)/9 - sky.at(float64(x), float64(y))
			in := math.Hypot(float64(x)-ring.X, float64(y)-ring.Y) < darkWithin*ring.Radius
			d.mark[j*w+i] = in && v < 0.5*light
		}
	}
	for s := range d.mark {
		if d.mark[s] {
			if p := d.flood(s, w); p.Radius > darkLeast*ring.Radius {
				p.X, p.Y = p.X+float64(x0), p.Y+float64(y0)
				d.found = append(d.found, p)
			}
		}
	}
	slices.SortFunc(d.found, func(a, b darkPlace) int { return cmp.Compare(b.area, a.area) })
	for _, p := range d.found[:min(darkMost, len(d.found))] {
		d.list = append(d.list, p.Circle)
	}
	return d.list
}

// flood collects one connected place, from mark s on, and removes its marks.
func (d *darkPlaces) flood(s, w int) (p darkPlace) {
	d.queue = append(d.queue[:0], int32(s))
	d.mark[s] = false
	for n := 0; n < len(d.queue); n++ {
		q := int(d.queue[n])
		p.area++
		p.X += float64(q % w)
		p.Y += float64(q / w)
		for _, to := range [...]int{q - 1, q + 1, q - w, q + w} {
			if to < 0 || to >= len(d.mark) || !d.mark[to] || (to == q-1 && q%w == 0) || (to == q+1 && to%w == 0) {
				continue
			}
			d.mark[to] = false
			d.queue = append(d.queue, int32(to))
		}
	}
	p.X, p.Y, p.Radius = p.X/p.area, p.Y/p.area, math.Sqrt(p.area/math.Pi)
	return p
}
