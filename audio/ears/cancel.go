package ears

import (
	"math"

	"halocue/audio"
)

const (
	cancelled = 5     // partials of the tone that are subtracted
	learning  = 0.005 // step of the filter: it follows the room within 200 samples, 12 ms
	highest   = 7000  // Hz
)

// canceller subtracts a tone of known pitch and its partials from what the microphone
// hears. For each partial two weights, for sine and cosine, follow its part in the sound
// by least mean squares (Widrow and Stearns, Adaptive Signal Processing, 1985, section
// 12.1: from memory).
type canceller struct {
	phase float64
	w     [cancelled][2]float64
}

// remove takes the tone out of x, in place. At 0 Hz it does nothing.
func (c *canceller) remove(x []float64, hz float64) {
	if hz <= 0 {
		c.w = [cancelled][2]float64{}
		return
	}
	partials := min(cancelled, int(highest/hz))
	for i, v := range x {
		c.phase = math.Mod(c.phase+2*math.Pi*hz/audio.MicRate, 2*math.Pi)
		for k := range partials {
			sin, cos := math.Sincos(c.phase * float64(k+1))
			w := &c.w[k]
			v -= w[0]*sin + w[1]*cos
			w[0] += 2 * learning * v * sin
			w[1] += 2 * learning * v * cos
		}
		x[i] = v
	}
}
