package listener

import "math"

// decimator takes 48 kHz to 16 kHz: a low-pass at 7 kHz (a windowed sinc), then
// every third sample. Its delay of half its length, 1 ms, is left alone.
type decimator struct {
	taps  []float64
	past  []float64
	phase int
}

const (
	thinBy = 3
	taps   = 96
)

// push takes the next samples and returns a third as many.
func (d *decimator) push(in []float64) []float64 {
	if d.taps == nil {
		d.taps, d.past = lowPass(7000.0/rate), make([]float64, taps)
	}
	out := make([]float64, 0, len(in)/thinBy+1)
	x := append(d.past, in...)
	for i := range in {
		if d.phase = (d.phase + 1) % thinBy; d.phase == 0 {
			sum := 0.0
			for k, c := range d.taps {
				sum += c * x[i+k+1]
			}
			out = append(out, sum)
		}
	}
	d.past = append([]float64(nil), x[len(x)-taps:]...)
	return out
}

// lowPass is a sinc under a Hann window with its edge at a fraction of the rate.
func lowPass(edge float64) []float64 {
	h := make([]float64, taps)
	sum := 0.0
	for i := range h {
		x := float64(i) - (taps-1)/2.0
		h[i] = 2 * edge * (1 - math.Cos(2*math.Pi*(float64(i)+0.5)/taps))
		if x != 0 {
			h[i] *= math.Sin(2*math.Pi*edge*x) / (2 * math.Pi * edge * x)
		}
		sum += h[i]
	}
	for i := range h {
		h[i] /= sum
	}
	return h
}
