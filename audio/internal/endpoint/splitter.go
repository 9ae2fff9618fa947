// Package endpoint finds the beginning and the end of utterances in a stream of sound,
// for recognisers that take one sentence at a time.
package endpoint

import (
	"math"
	"math/rand"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

// rate is the sample rate of what is cut, in samples a second.
const rate = 16000

const (
	step    = rate / 50 // 20 ms between two looks
	look    = 1024      // samples of a look
	binHz   = float64(rate) / look
	lead    = 15  // steps kept before the first sound
	hang    = 25  // quiet steps that end an utterance
	longest = 600 // steps: 12 s
	above   = 9   // dB above the noise from which it is speech (judgement; docs/sound.md, "Commands")
	comb    = 4   // bins on either side of a partial that belong to the tone
)

// Utterance is a piece of speech with some of the silence around it. Times are
// seconds since the first sample.
type Utterance struct {
	From, To float64
	PCM      []int16
}

// Splitter cuts speech out of a stream. A tone with its partials is no speech: the rest
// of the spectrum must be louder than the noise.
type Splitter struct {
	Quietest float64 // dBFS: nothing below this is speech
	Dither   float64 // noise that is added, RMS, full scale at 1
	Lowest   float64 // Hz: what is below is not looked at, such as the rumble of wind; 0 means 120

	// Known says that Hz, which may be set before each Push, is the tone's pitch, 0 for
	// none. Otherwise the pitch is searched, and a faint voice with a pitch above 180 Hz
	// may be taken for the tone.
	Known bool
	Hz    float64

	fft      *fourier.FFT
	win      window.Values
	rng      *rand.Rand
	past     []float64 // the last look, and then the samples since
	steps    int       // looks so far
	levels   []float64 // what is left without the tone, of the last 3 s, dBFS
	active   []bool    // of the last looks
	speaking bool
	quiet    int // quiet steps in a row
	began    int // step
	pcm      []int16
}

// Push takes samples, mono, full scale at 1, and returns the utterances that have ended.
func (s *Splitter) Push(in []float64) (out []Utterance) {
	if s.fft == nil {
		s.fft = fourier.NewFFT(look)
		s.win = window.NewValues(window.Hann, look)
		s.rng = rand.New(rand.NewSource(1))
		s.past = make([]float64, look, look+step)
	}
	for _, v := range in {
		s.past = append(s.past, v)
		v = 32767 * (v + s.Dither*s.rng.NormFloat64())
		s.pcm = append(s.pcm, int16(math.Max(-32767, math.Min(32767, v))))
		if len(s.past) == look+step {
			s.past = append(s.past[:0], s.past[step:]...)
			s.steps++
			if u, ok := s.step(); ok {
				out = append(out, u)
			}
		}
	}
	return out
}

// Speaking says whether somebody speaks, as far as can be told.
func (s *Splitter) Speaking() bool { return s.speaking }

// step looks at the last samples and decides.
func (s *Splitter) step() (Utterance, bool) {
	level := s.withoutTone()
	s.levels = append(s.levels, level)
	if len(s.levels) > 150 {
		s.levels = s.levels[1:]
	}
	s.active = append(s.active, level > math.Max(s.Quietest, floor(s.levels)+above))
	if len(s.active) > 5 {
		s.active = s.active[1:]
	}
	n := 0
	for _, a := range s.active {
		if a {
			n++
		}
	}
	if !s.speaking {
		if n >= 3 {
			s.speaking, s.quiet, s.began = true, 0, s.steps
		}
		if over := len(s.pcm) - lead*step; over > 0 && !s.speaking {
			s.pcm = append(s.pcm[:0], s.pcm[over:]...)
		}
		return Utterance{}, false
	}
	s.quiet++
	if s.active[len(s.active)-1] {
		s.quiet = 0
	}
	if s.quiet < hang && len(s.pcm) < longest*step {
		return Utterance{}, false
	}
	s.speaking = false
	u := Utterance{
		From: float64(s.began-4) * step / rate,
		To:   float64(s.steps-s.quiet) * step / rate,
		PCM:  s.pcm,
	}
	s.pcm = nil
	s.active = nil
	return u, true
}

// withoutTone is the level of the last look in dBFS without the tone: of the known
// pitch, or of that pitch of 180 to 1400 Hz which with four partials holds most of the
// power.
func (s *Splitter) withoutTone() float64 {
	coeff := s.fft.Coefficients(nil, s.win.Transform(slices.Clone(s.past)))
	power := make([]float64, len(coeff))
	total, top := 1e-15, 0
	for i := bin(math.Max(120, s.Lowest)); i < bin(6000); i++ {
		re, im := real(coeff[i]), imag(coeff[i])
		power[i] = re*re + im*im
		total += power[i]
		if f := float64(i) * binHz; f >= 180 && f < 1400 && power[i] > power[top] {
			top = i
		}
	}
	best := 0.0
	switch {
	case !s.Known:
		for _, part := range []float64{1, 2, 3} {
			if f := float64(top) / part; f*binHz >= 180 {
				best = math.Max(best, explained(power, f))
			}
		}
	case s.Hz > 0:
		best = explained(power, s.Hz/binHz)
	}
	left := math.Max(total-best, total*1e-4)
	// Of a sine of full scale under a Hann window the bins add up to 3/32 n^2.
	return 10 * math.Log10(left/(3.0/32*look*look))
}

func bin(hz float64) int { return int(hz / binHz) }

// explained is the power in the bins around a tone and its first four overtones.
func explained(power []float64, fundamental float64) (sum float64) {
	for k := 1; k <= 5; k++ {
		c := int(math.Round(fundamental * float64(k)))
		for i := max(0, c-comb); i <= min(len(power)-1, c+comb); i++ {
			sum += power[i]
		}
	}
	return sum
}

// floor is the level of the noise: the lowest tenth of what was heard lately.
func floor(levels []float64) float64 {
	if len(levels) < 25 {
		return math.Inf(-1)
	}
	return slices.Sorted(slices.Values(levels))[len(levels)/10]
}
