package ring

import (
	"os"
	"strconv"

	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
)

// fit refines an outline by the forward model.
func (m *Meter) fit(f *frame.Frame, s sight, o outline) Measurement {
	fr := m.fresnelPerPx()
	r := o.outer.Radius
	for range 3 {
		r = o.outer.Radius / (1 - 0.25/math.Sqrt(fr*o.outer.Radius))
	}
	bin := max(1, int(tune("BIN", 0.2)*r/math.Sqrt(fr*r)))
	rounds := 1
	if o.clipped > 0.05 { // little light is left to go by, at the edges alone
		bin, rounds = max(1, int(tune("CBIN", 0.1)*r/math.Sqrt(fr*r))), 3
	}
	ft := m.fitter(f, s, o.outer, r, bin)
	q := params{}
	q[pX], q[pY], q[pR] = o.outer.X, o.outer.Y, r
	q[pOX], q[pOY] = (o.inner.X-o.outer.X)/r, (o.inner.Y-o.outer.Y)/r
	q[pEps] = m.eps
	q[pKX], q[pKY] = -q[pOX]/(1-m.eps*m.eps), -q[pOY]/(1-m.eps*m.eps)
	q[pFlux] = o.light
	q[pSky] = s.sky.at(q[pX], q[pY])
	q[pSX], q[pSY] = s.sky.gx*r, s.sky.gy*r
	q[pBlur] = 1
	ft.prior = q
	ft.prior[pN], ft.tight[pN] = 0, sq(1/0.03)
	ft.prior[pEps], ft.tight[pEps] = m.eps, sq(1/0.01)
	ft.tight[pKX], ft.tight[pKY] = 0, 0
	ft.tight[pBlur] = sq(1 / 2.)
	ft.prior[pA0], ft.prior[pA1], ft.prior[pSph] = 0, 0, 0
	ft.tight[pA0], ft.tight[pA1] = sq(1/0.01), sq(1/0.01)

	ft.centred = sq(1 / tune("CENT", 0.03))
	edges := []int{pX, pY, pR, pOX, pOY, pBlur, pFlux, pSky}
	free := []int{pX, pY, pR, pOX, pOY, pKX, pKY, pN, pEps, pBlur, pFlux, pSky, pSX, pSY}
	n := fr * r
	ft.rough = m.canvasOf(int(tune("G1", 128)), 3)
	ft.canvas = ft.rough
	ft.run(&q, edges, 3, true)
	ft.learnNoise(&q)
	ft.run(&q, free, 3, true)
	if n > 20 {
		ft.rough = m.canvasOf(256, 3)
		ft.canvas = ft.rough
		ft.draw(&q, ft.fresnel, ft.vanes, ft.pixel)
	}
	ft.vanes = ft.findVanes(&q)
	ft.prior = q2(ft.prior, q)
	for k := range ft.vanes {
		free = append(free, pVane+2*k, pVane+2*k+1)
	}
	ft.learnNoise(&q)
	ft.run(&q, free, rounds*int(tune("R1", 3)), true)
	ft.learnNoise(&q)
	ft.rough.derive(&q, ft.fresnel, ft.vanes, ft.pixel, free)
	if n > tune("NF", 35) {
		ft.canvas = m.canvasOf(512, int(tune("BANDS", 5)))
	} else {
		ft.canvas = m.canvasOf(256, int(tune("BANDS", 5)))
	}
	ft.run(&q, free, rounds*int(tune("R2", 4)), false)
	ft.learnNoise(&q)
	ft.accumulate(&q)
	out := Measurement{Found: true}
	out.Ring = Circle{q[pX], q[pY], q[pR]}
	off := r2.Vec{X: q[pOX] * q[pR], Y: q[pOY] * q[pR]}
	out.Offset = off
	out.Shadow = Circle{q[pX] + off.X, q[pY] + off.Y, q[pEps] * q[pR]}
	if cov, ok := ft.covariance(&q); ok {
		out.Sigma = r2.Vec{X: math.Sqrt(max(cov.At(3, 3), ft.cov.At(3, 3))) * q[pR], Y: math.Sqrt(max(cov.At(4, 4), ft.cov.At(4, 4))) * q[pR]}
	}
	if m.look != nil {
		m.look(ft, &q)
	}
	out.Star, out.Seen = r2.Vec{X: q[pX], Y: q[pY]}, true
	out.Clipped = o.clipped
	if f.White > 0 {
		out.Level = min(1, max(0, q[pFlux]/float64(f.White)))
	}
	out.Flags = m.flags(&o)
	return out
}

func (m *Meter) canvasOf(n, bands int) *canvas {
	k := [2]int{n, bands}
	if m.canvas[k] == nil {
		m.canvas[k] = newCanvas(n, bands)
	}
	return m.canvas[k]
}

// q2 keeps the prior of everything but the vanes.
func q2(prior, q params) params {
	copy(prior[pVane:], q[pVane:])
	return prior
}

func sq(x float64) float64 { return x * x }

// fitter prepares the samples around the ring.
func (m *Meter) fitter(f *frame.Frame, s sight, c Circle, r float64, bin int) *fitter {
	ft := &fitter{fresnel: m.fresnelPerPx(), pixel: float64(bin), flaw: tune("FLAW", 0.01)}
	reach := 1.3 * r
	x0, x1 := max(0, int(c.X-reach)), min(f.Width, int(c.X+reach)+1)
	y0, y1 := max(0, int(c.Y-reach)), min(f.Height, int(c.Y+reach)+1)
	for y := y0; y+bin <= y1; y += bin {
		for x := x0; x+bin <= x1; x += bin {
			d := sample{x: float64(x) + float64(bin-1)/2, y: float64(y) + float64(bin-1)/2}
			if math.Hypot(d.x-c.X, d.y-c.Y) > reach {
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
			ft.data = append(ft.data, d)
		}
	}
	k := len(ft.data)
	ft.model, ft.sigma, ft.weight = make([]float64, k), make([]float64, k), make([]float64, k)
	ft.noise = noise{base: (s.noise*s.noise + 1./12) / float64(bin*bin)}
	return ft
}

// learnNoise estimates how the noise grows with light, from the residuals.
func (f *fitter) learnNoise(q *params) {
	f.residuals(q)
	var low, high []float64
	var light float64
	for i := range f.data {
		if f.data[i].clipped {
			continue
		}
		m := f.model[i] - q[pSky]
		r := math.Abs(f.data[i].v - f.model[i])
		switch {
		case m < 0.02*q[pFlux]:
			low = append(low, r)
		case m > 0.5*q[pFlux]:
			high = append(high, r)
			light += m
		}
	}
	if len(high) < 50 {
		return
	}
	light /= float64(len(high))
	v := sq(1.4826 * median(high))
	f.noise.gain = max(0, v-f.noise.base) / light
}

func tune(name string, def float64) float64 {
	if v, err := strconv.ParseFloat(os.Getenv(name), 64); err == nil {
		return v
	}
	return def
}
