package telescope

import (
	"math"
	"math/cmplx"
	"sync"
)

// profile is the brightness across an edge or a vane, by the distance from it in
// ring radii, from -span to span; 1 is full light.
type profile struct {
	span, perStep float64
	v             [1025]float32
}

// at returns the brightness at a distance; beyond the table its ends.
func (p *profile) at(d float64) float64 {
	i := int(d*p.perStep + 512.5)
	if i < 0 {
		i = 0
	} else if i > 1024 {
		i = 1024
	}
	return float64(p.v[i])
}

// fill makes the table of a field's intensity for a Fresnel number at 550 nm,
// averaged over the band and blurred by a Gaussian of sd ring radii. field takes
// Fresnel's variable v = d sqrt(2N).
func (p *profile) fill(fresnel, sd float64, band []float64, field func(v, k float64) complex128) {
	p.span = math.Min(math.Max(6/math.Sqrt(fresnel), 4*sd), 0.9)
	step := p.span / 512
	p.perStep = 1 / step
	var raw [1025]float64
	for i := range raw {
		d := (float64(i) - 512) * step
		for _, k := range band {
			a := field(d*math.Sqrt(2*fresnel*k), k)
			raw[i] += (real(a)*real(a) + imag(a)*imag(a)) / float64(len(band))
		}
	}
	reach := int(3*sd/step) + 1
	kernel := make([]float64, reach+1)
	total := 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-0.5 * sq(float64(i)*step/math.Max(sd, 1e-9)))
		total += kernel[i] * float64(min(i, 1)+1)
	}
	for i := range p.v {
		var sum float64
		for k := -reach; k <= reach; k++ {
			sum += kernel[max(k, -k)] * raw[min(max(i+k, 0), 1024)]
		}
		p.v[i] = float32(sum / total)
	}
}

// knife is the field behind a straight edge, light on the side of v > 0:
// (F(v) + (1+i)/2) / (1+i) with Fresnel's integral F (Born & Wolf 8.7, from memory).
func knife(v, _ float64) complex128 { return (fresnelIntegral(v) + (0.5 + 0.5i)) / (1 + 1i) }

// strip is the field behind an opaque strip of half width w ring radii.
func strip(w, fresnel float64) func(v, k float64) complex128 {
	return func(v, k float64) complex128 {
		h := w * math.Sqrt(2*fresnel*k)
		return 1 - (fresnelIntegral(v+h)-fresnelIntegral(v-h))/(1+1i)
	}
}

const (
	fresnelStep = 0.004
	fresnelEnd  = 12.0
)

// fresnelTable holds C + iS up to fresnelEnd, by Simpson's rule.
var fresnelTable = sync.OnceValue(func() []complex128 {
	f := func(t float64) complex128 { return cmplx.Rect(1, math.Pi/2*t*t) }
	table := make([]complex128, int(fresnelEnd/fresnelStep)+2)
	for i := 1; i < len(table); i++ {
		a := float64(i-1) * fresnelStep
		table[i] = table[i-1] + (f(a)+4*f(a+fresnelStep/2)+f(a+fresnelStep))*fresnelStep/6
	}
	return table
})

// fresnelIntegral returns C(v) + i S(v), the integral of exp(i pi t^2 / 2) from 0;
// beyond the table its asymptote (Abramowitz & Stegun 7.3.9-10, from memory).
func fresnelIntegral(v float64) complex128 {
	a := math.Abs(v)
	var f complex128
	if a >= fresnelEnd {
		f = (0.5 + 0.5i) - 1i*cmplx.Rect(1/(math.Pi*a), math.Pi/2*a*a)
	} else {
		table := fresnelTable()
		x := a / fresnelStep
		i := int(x)
		f = table[i] + complex(x-float64(i), 0)*(table[i+1]-table[i])
	}
	if v < 0 {
		return -f
	}
	return f
}
