package audio

import (
	"fmt"
	"math"
)

// Waveform is the timbre of the tone.
type Waveform int

// Waveforms: soft has a little of the first overtones, so that a loudspeaker too
// small for the low pitches still carries them; sine has none; reed has many, for
// wind and hoods.
const (
	Soft Waveform = iota
	Sine
	Reed
)

// ParseWaveform reads a waveform's name: soft, sine or reed.
func ParseWaveform(name string) (Waveform, error) {
	w, ok := map[string]Waveform{"": Soft, "soft": Soft, "sine": Sine, "reed": Reed}[name]
	if !ok {
		return 0, fmt.Errorf("waveform %q: choose sine, soft or reed", name)
	}
	return w, nil
}

const partials = 5

// spectrum is the amplitude of each partial, the fundamental first. The
// fundamental is always the strongest, so that the pitch is never in doubt.
type spectrum [partials]float64

var waves = [...]spectrum{
	Soft: {1, 0.35, 0.15},
	Sine: {1},
	Reed: {1, 0.7, 0.5, 0.35, 0.25},
}

// spectrumOf is the timbre of a state: Trim has the chosen waveform; the others
// differ from it and from each other, whatever was chosen.
func spectrumOf(s State, w Waveform) spectrum {
	switch s {
	case Centre:
		return spectrum{1, 0, 0.5, 0, 0.25} // hollow: odd partials only
	case Inside:
		return spectrum{1, 0.6, 0, 0.3} // bell-like octaves
	case Stop:
		return spectrum{1, 0.6, 0.6, 0.3, 0.3} // bright
	case Wait:
		return spectrum{1, 0, 0.3} // wood
	}
	return waves[w]
}

// at is the value of the wave at a phase in radians: the sum of sines by the
// recurrence sin(k+1)x = 2 cos x sin kx - sin(k-1)x.
func (s *spectrum) at(phase float64) float64 {
	sin, cos := math.Sincos(phase)
	prev, cur, sum := 0.0, sin, s[0]*sin
	for k := 1; k < partials; k++ {
		prev, cur = cur, 2*cos*cur-prev
		sum += s[k] * cur
	}
	return sum
}

// weighted is the mean square of the wave at a pitch in Hz when each partial goes
// through a weighting given as a magnitude.
func (s *spectrum) weighted(hz float64, weight func(hz float64) float64) float64 {
	sum := 0.0
	for k, a := range s {
		g := a * weight(hz*float64(k+1))
		sum += g * g / 2
	}
	return sum
}
