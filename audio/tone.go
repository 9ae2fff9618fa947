package audio

import (
	"fmt"
	"math"
)

// State is what the tone means.
type State int

// States of the tone: silent; guiding by the error; inside the tolerance; at the
// stop; guiding the star to where it should be in the frame; waiting for a hand.
const (
	Off State = iota
	Trim
	Inside
	Stop
	Centre
	Wait
)

// Tone is the one quantity to be heard.
type Tone struct {
	State State
	Error float64 // how far from true, >= 0: in tolerances (Trim), in half frame heights (Centre)
	Sigma float64 // its one-sigma, same unit
}

// Mode is how much of the tone is used. Each is enough alone.
type Mode int

// Modes: pitch and pulse rate both carry the error; the pulse rate alone, at one pitch,
// for those who do not hear pitch; no tone, and numbers are spoken instead.
const (
	PitchAndPulse Mode = iota
	PulseOnly
	WordsOnly
)

// ParseMode reads a mode's name: pitch-and-pulse, pulse or words.
func ParseMode(name string) (Mode, error) {
	m, ok := map[string]Mode{"": PitchAndPulse, "pitch-and-pulse": PitchAndPulse, "pulse": PulseOnly, "words": WordsOnly}[name]
	if !ok {
		return 0, fmt.Errorf("tone mode %q: choose pitch-and-pulse, pulse or words", name)
	}
	return m, nil
}

// Mapping turns an error into sound. Both pitch and pulse rate rise with the
// logarithm of the error as it falls, so that every halving is heard as the same
// step, the last one too.
type Mapping struct {
	Mode      Mode
	Wave      Waveform
	Low, High float64 // Hz, at the far and the near end of the range; 0 means 220 and 880
	Slow      float64 // pulses a second at the far end; 0 means 1
	Fast      float64 // pulses a second at the near end; 0 means 8
	Curve     float64 // > 0; of pitch and pulse rate: above 1 they rise most near the near end; 0 means 1, even
	Reference bool    // a quiet steady tone at the pitch of Inside, to compare with
}

// The ends of the range, in the units of Tone.Error. Beyond them the sound no longer
// changes. 12 tolerances are 8.5 mm at F/4 (0.0111 F^3 mm each) and more at slower
// mirrors, farther than a usual start; below 0.25 more turning gains nothing. The star's
// range is from the frame's corner to well inside what counts as centred (judgement).
const (
	trimFar, trimNear     = 12, 0.25
	centreFar, centreNear = 2, 0.03
)

// Semitones above High of the sounds that are not on the ramp.
const (
	insideStep = 3
	stopStep   = 5
)

func (m Mapping) withDefaults() Mapping {
	for _, d := range []struct {
		field *float64
		value float64
	}{{&m.Low, 220}, {&m.High, 880}, {&m.Slow, 1}, {&m.Fast, 8}, {&m.Curve, 1}} {
		if *d.field == 0 {
			*d.field = d.value
		}
	}
	return m
}

// Progress is how true the tone's quantity is, 0 (the far end) to 1 (the near end):
// 1 for Inside and Stop, 0 for Off. The words-only mode says it as per cent.
func (m Mapping) Progress(t Tone) float64 {
	switch t.State {
	case Trim:
		return progress(t.Error, trimFar, trimNear)
	case Centre:
		return progress(t.Error, centreFar, centreNear)
	case Inside, Stop:
		return 1
	}
	return 0
}

func progress(err, far, near float64) float64 {
	if math.IsNaN(err) {
		return 0
	}
	return math.Log(far/math.Min(far, math.Max(near, err))) / math.Log(far/near)
}

// Hz is the pitch of a tone, 0 where it is silent. Inside and Stop lie three and
// five semitones above the ramp (and sound different besides).
func (m Mapping) Hz(t Tone) float64 {
	m = m.withDefaults()
	if t.State == Off || m.Mode == WordsOnly {
		return 0
	}
	if m.Mode == PulseOnly {
		return math.Sqrt(m.Low * m.High)
	}
	switch t.State {
	case Inside:
		return m.High * math.Exp2(insideStep/12.0)
	case Stop:
		return m.High * math.Exp2(stopStep/12.0)
	case Wait:
		return m.Low
	}
	return m.Low * math.Pow(m.High/m.Low, math.Pow(m.Progress(t), m.Curve))
}

// PulsesPerSecond is the pulse rate of a tone in Trim or Centre, else 0.
func (m Mapping) PulsesPerSecond(t Tone) float64 {
	m = m.withDefaults()
	if t.State != Trim && t.State != Centre {
		return 0
	}
	return m.Slow * math.Pow(m.Fast/m.Slow, math.Pow(m.Progress(t), m.Curve))
}

// tremoloDepth is the depth, 0 to 0.6, of the slow tremolo that makes uncertainty
// heard: how far the loudness sinks, as a fraction. It grows with the sigma
// relative to the error, or to half of the tolerance where the error is smaller.
func (m Mapping) tremoloDepth(t Tone) float64 {
	if t.State == Off || t.State == Stop || t.State == Wait || !(t.Sigma > 0) {
		return 0
	}
	floor := 0.5
	if t.State == Centre {
		floor = 0.1
	}
	r := t.Sigma / math.Max(t.Error, floor)
	if math.IsNaN(r) { // both are infinite: nothing is known
		r = 1
	}
	return 0.6 * (1 - 0.5/(r+0.5))
}
