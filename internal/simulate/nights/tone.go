package nights

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/internal/cue"
	"halocue/internal/simulate/telescope"
)

// Heard is how honest the tone was, and how soon it was heard to answer.
type Heard struct {
	Off, Flattered int // frames with a tone and a mirror more than a tolerance off; of these, in which it says less than half of that
	Early          int // frames at "inside" while the bound is outside
	Helped, Rose   int // turns that took a quarter of the error away; of these, heard by then as a rise
	Proofs, Top    int // proofs; of these, with the tone at its top
}

func (h *Heard) add(o Heard) {
	h.Off, h.Flattered, h.Early = h.Off+o.Off, h.Flattered+o.Flattered, h.Early+o.Early
	h.Helped, h.Rose, h.Proofs, h.Top = h.Helped+o.Helped, h.Rose+o.Rose, h.Proofs+o.Proofs, h.Top+o.Top
}

const (
	helps    = 0.75 // of the error that is left when a turn has helped
	hearable = 1.0  // semitones
	soon     = 0.3  // seconds from the help to the rise
	topSoon  = 5.0  // seconds around a proof in which the tone must be at its top
)

// ear compares what the tone says with the truth, frame by frame.
type ear struct {
	Heard
	off   float64 // true error at the last frame, tolerances
	pitch float64 // of the last frame, semitones; NaN: no tone of the error
	state cue.ToneState
	topT  float64 // when the tone was last at its top
	turns []float64

	still           float64 // seconds since a knob last moved
	turning, judged bool    // it moves; and whether that was heard is known
	before, error0  float64 // pitch and true error before it
	helpedT         float64 // when it had helped, or NaN
}

func newEar() ear {
	return ear{still: math.Inf(1), pitch: math.NaN(), helpedT: math.NaN(), topT: math.Inf(-1)}
}

// hear takes in a frame dt seconds after the last.
func (e *ear) hear(t, dt, tolerance float64, truth telescope.Truth, a cue.Advice) {
	off := r2.Norm(truth.Axis) / tolerance
	tone := a.Tone
	said := tone.State == cue.ToneTrim || tone.State == cue.ToneInside || tone.State == cue.ToneStop
	pitch := math.NaN()
	if said {
		state := map[cue.ToneState]audio.State{cue.ToneTrim: audio.Trim, cue.ToneInside: audio.Inside, cue.ToneStop: audio.Trim}[tone.State]
		pitch = 12 * math.Log2(audio.Mapping{}.Hz(audio.Tone{State: state, Error: tone.Error}))
		if off > 1 {
			e.Off++
			if tone.Error < off/2 {
				e.Flattered++
			}
		}
	}
	if tone.State == cue.ToneInside {
		e.topT = t
		if a.Estimate.Bound >= 1 {
			e.Early++
		}
	}
	for _, c := range a.Cues {
		if c.Action == cue.Done && c.Result == cue.Aligned {
			e.Proofs++
			if t-e.topT <= topSoon {
				e.Top++
			}
		}
	}
	e.turn(t, dt, truth.Turns, off, pitch)
	e.off, e.pitch, e.state = off, pitch, tone.State
}

// turn follows a knob that moves, until that has helped and is heard, or not.
func (e *ear) turn(t, dt float64, turns []float64, off, pitch float64) {
	const rest = 0.5 // seconds without a movement that end a turn
	e.still += dt
	for k, v := range turns {
		if e.turns != nil && math.Abs(v-e.turns[k]) > 1e-4 {
			e.still = 0
		}
	}
	e.turns = append(e.turns[:0], turns...)
	switch {
	case e.still >= rest && math.IsNaN(e.helpedT):
		e.turning, e.judged = false, false
		return
	case e.judged:
		return
	case !e.turning:
		e.turning, e.before, e.error0 = true, e.pitch, e.off
		if e.state != cue.ToneTrim {
			e.before = math.NaN()
		}
	}
	if math.IsNaN(e.helpedT) && off <= helps*e.error0 {
		e.helpedT = t
	}
	rose := pitch >= e.before+hearable
	switch {
	case math.IsNaN(e.before), math.IsNaN(pitch): // there was nothing to rise from, or the star is lost
	case rose && !math.IsNaN(e.helpedT):
		e.Helped, e.Rose = e.Helped+1, e.Rose+1
	case t >= e.helpedT+soon-1e-9:
		e.Helped++
	default:
		return
	}
	e.judged, e.helpedT = true, math.NaN()
}
