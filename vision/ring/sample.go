package ring

import (
	"math"

	"halocue/vision/frame"
	"halocue/vision/robust"
)

// reach is how far out samples are taken, ring radii.
const reach = span / 2

// fitter prepares the samples around the ring: means over squares of bin camera
// pixels.
func (m *Meter) fitter(f *frame.Frame, s detection, q *params, bin int) *fitter {
	ft := &fitter{fresnel: m.fresnelPerPx(), pixel: float64(bin)}
	var parts [sectors][]sample
	cx, cy, far := q[pX], q[pY], reach*q[pR]
	x0, x1 := max(0, int(cx-far)), min(f.Width, int(cx+far)+1)
	y0, y1 := max(0, int(cy-far)), min(f.Height, int(cy+far)+1)
	for y := y0; y+bin <= y1; y += bin {
		for x := x0; x+bin <= x1; x += bin {
			d := sample{x: float64(x) + float64(bin-1)/2, y: float64(y) + float64(bin-1)/2}
			if math.Hypot(d.x-cx, d.y-cy) > far {
				continue
			}
			for j := y; j < y+bin; j++ {
				for _, v := range f.Pix[j*f.Width+x : j*f.Width+x+bin] {
					d.v += float64(v)
					if float64(v) >= s.clip {
						d.clipped = true
					}
				}
			}
			d.v /= float64(bin * bin)
			k := int((math.Atan2(d.y-cy, d.x-cx)/(2*math.Pi) + 0.5) * sectors)
			k = min(max(k, 0), sectors-1)
			parts[k] = append(parts[k], d)
		}
	}
	for k, part := range parts {
		ft.data = append(ft.data, part...)
		ft.sector[k+1] = len(ft.data)
	}
	for _, v := range []*[]float64{&ft.model, &ft.sigma, &ft.slopes, &ft.weight, &ft.force, &ft.before, &ft.part} {
		*v = make([]float64, len(ft.data))
	}
	ft.ceiling = s.clip / belowCeiling
	ft.noise = noise{base: (s.noise*s.noise + 1./12) / float64(bin*bin)}
	return ft
}

// learnNoise estimates from the residuals how the noise grows with light.
func (f *fitter) learnNoise(q *params) {
	var high []float64
	var light float64
	for i := range f.data {
		if m := f.model[i] - q[pSky]; !f.data[i].clipped && m > 0.5*q[pFlux] {
			high = append(high, math.Abs(f.data[i].v-f.model[i]))
			light += m
		}
	}
	if len(high) < 50 {
		return
	}
	light /= float64(len(high))
	v := sq(robust.Scatter(high)) - sq(f.modelError*q[pFlux])
	f.noise.gain = max(0, v-f.noise.base) / light
}

func (m *Meter) canvasOf(g grid) *canvas {
	if m.canvas[g] == nil {
		m.canvas[g] = newCanvas(g)
	}
	return m.canvas[g]
}
