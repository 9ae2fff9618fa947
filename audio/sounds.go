package audio

import (
	"fmt"
	"strings"
)

// Sound is one thing that a person learns to know by ear: an earcon, or a state of
// the tone.
type Sound struct {
	Code    string  // stable name
	Seconds float64 // how long to play it
	earcon  Earcon
	tone    func(x float64) Tone // at x, 0 to 1 of its time; nil for an earcon
}

// SoundsNamed are those with the codes, in that order, or all where none is given.
func SoundsNamed(codes []string) ([]Sound, error) {
	all := Sounds()
	if len(codes) == 0 {
		return all, nil
	}
	byCode, known := map[string]Sound{}, make([]string, len(all))
	for i, s := range all {
		byCode[s.Code], known[i] = s, s.Code
	}
	var chosen []Sound
	for _, code := range codes {
		s, ok := byCode[code]
		if !ok {
			return nil, fmt.Errorf("there is no sound %q; there are: %s", code, strings.Join(known, ", "))
		}
		chosen = append(chosen, s)
	}
	return chosen, nil
}

// Sounds lists all of them in the order in which they are taught.
func Sounds() []Sound {
	steady := func(t Tone) func(float64) Tone { return func(float64) Tone { return t } }
	all := []Sound{
		{Code: "tone-far", Seconds: 3, tone: steady(Tone{Trim, 8, 0})},
		{Code: "tone-coming", Seconds: 6, tone: coming},
		{Code: "tone-unsure", Seconds: 6, tone: steady(Tone{Trim, 2, 3})},
		{Code: "tone-inside", Seconds: 3, tone: steady(Tone{Inside, 0.5, 0})},
		{Code: "tone-stop", Seconds: 2, tone: steady(Tone{Stop, 0, 0})},
		{Code: "tone-centre", Seconds: 3, tone: steady(Tone{Centre, 0.4, 0})},
		{Code: "tone-wait", Seconds: 5, tone: steady(Tone{Wait, 0, 0})},
	}
	for _, e := range Earcons() {
		all = append(all, Sound{Code: e.String(), Seconds: e.Clip().Seconds(), earcon: e})
	}
	return all
}

// coming is an error that falls by a constant factor, from 8 tolerances to 0.3.
func coming(x float64) Tone { return Tone{State: Trim, Error: 8 * fromDB(-28.5*x)} }

// At sets the mixer to what sounds so many seconds after the beginning. Call it first
// with 0, then some ten times a second; once the sound is over it turns the tone off.
func (s Sound) At(d *Mixer, seconds float64) {
	switch {
	case s.tone == nil && seconds == 0:
		d.Play(s.earcon)
	case s.tone != nil && seconds < s.Seconds:
		d.SetTone(s.tone(seconds / s.Seconds))
	case s.tone != nil:
		d.SetTone(Tone{})
	}
}
