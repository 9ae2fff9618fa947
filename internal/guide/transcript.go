package guide

import (
	"encoding/json"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
)

// Transcript writes what happens as JSON lines, each flushed as it is written:
// the outside contract of guide. The zero of its time is the first frame, and the
// first sample of sound. A nil Transcript writes nothing.
type Transcript struct {
	w   io.Writer
	err error
}

// NewTranscript writes to w, which it does not close.
func NewTranscript(w io.Writer) *Transcript { return &Transcript{w: w} }

// Err returns the first failure to write; nothing is written after it.
func (tr *Transcript) Err() error {
	if tr == nil {
		return nil
	}
	return tr.err
}

// write puts one event on its own line, in one call of Write.
func (tr *Transcript) write(event any) {
	if tr == nil || tr.err != nil {
		return
	}
	line, err := json.Marshal(event)
	if err == nil {
		_, err = tr.w.Write(append(line, '\n'))
	}
	if err != nil {
		tr.err = fmt.Errorf("writing the transcript: %w; give --transcript a place that can be written", err)
	}
}

// xy is a vector as the contract writes it.
type xy struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

func vec(v r2.Vec, digits int) xy { return xy{round(v.X, digits), round(v.Y, digits)} }

// round keeps the lines short; a transcript needs no seventeen digits. JSON has
// no infinities: what is not finite becomes 0.
func round(v float64, digits int) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	p := math.Pow(10, float64(digits))
	return math.Round(v*p) / p
}

// The events. T is in seconds.
type (
	sayEvent struct {
		T         float64 `json:"t"`
		Event     string  `json:"event"` // say
		Action    string  `json:"action"`
		Code      string  `json:"code"`
		Knob      string  `json:"knob,omitempty"`
		Direction string  `json:"direction,omitempty"`
		Amount    string  `json:"amount,omitempty"`
		Turns     float64 `json:"turns,omitempty"`
		Result    string  `json:"result,omitempty"`
		Seconds   float64 `json:"seconds"` // how long the words take
		Text      string  `json:"text"`
	}
	toneEvent struct {
		T     float64 `json:"t"`
		Event string  `json:"event"` // tone
		Hz    float64 `json:"hz"`
		State string  `json:"state"`
		Error float64 `json:"error"`
		Sigma float64 `json:"sigma"`
	}
	signalEvent struct {
		T      float64 `json:"t"`
		Event  string  `json:"event"` // signal
		Signal string  `json:"signal"`
	}
	measureEvent struct {
		T     float64 `json:"t"`
		Event string  `json:"event"` // measure

		// The sight: enough to run the coach again.
		Width    int      `json:"width"`
		Height   int      `json:"height"`
		Found    bool     `json:"found"`
		Why      string   `json:"why,omitempty"`
		Seen     bool     `json:"seen"`
		StarPx   xy       `json:"star_px"`
		RadiusPx float64  `json:"radius_px"`
		ShadowPx float64  `json:"shadow_px"`
		OffsetPx xy       `json:"offset_px"`
		SigmaPx  xy       `json:"sigma_px"`
		Level    float64  `json:"level"`
		Clipped  float64  `json:"clipped"`
		Flags    []string `json:"flags,omitempty"`

		// The belief after it.
		Known      bool    `json:"known"`
		AxisMM     xy      `json:"axis_mm"`
		AxisSigma  xy      `json:"axis_sigma_mm"`
		Ratio      float64 `json:"tolerance_ratio"`
		Bound      float64 `json:"bound"`
		Side       string  `json:"side,omitempty"`
		SideChance float64 `json:"side_chance,omitempty"`
		R0         float64 `json:"r0_mm,omitempty"`
	}
	decideEvent struct {
		T      float64 `json:"t"`
		Event  string  `json:"event"` // decide
		Code   string  `json:"code"`
		Reason string  `json:"reason"`
	}
	stageEvent struct {
		T     float64 `json:"t"`
		Event string  `json:"event"` // stage
		Stage string  `json:"stage"`
	}
	learnedEvent struct {
		T      float64      `json:"t"`
		Event  string       `json:"event"`  // learned
		Memory coach.Memory `json:"memory"` // what the next night begins with
	}
	commandEvent struct {
		T       float64 `json:"t"`
		Event   string  `json:"event"` // command
		Command string  `json:"command"`
	}
	deviceEvent struct {
		T      float64 `json:"t"`
		Event  string  `json:"event"` // device
		Device string  `json:"device"`
		State  string  `json:"state"`
		Detail string  `json:"detail,omitempty"`
	}
)

// rounded keeps of a sight what the transcript keeps, far below any noise: so
// that a replay of the transcript is the night to the letter.
func rounded(s coach.Sight) coach.Sight {
	v := func(p r2.Vec) r2.Vec { return r2.Vec(vec(p, 4)) }
	s.T = round(s.T, 4)
	s.Star, s.Offset, s.Sigma = v(s.Star), v(s.Offset), v(s.Sigma)
	s.Radius, s.Shadow = round(s.Radius, 4), round(s.Shadow, 4)
	s.Level, s.Clipped = round(s.Level, 4), round(s.Clipped, 4)
	return s
}

// measured is the event of one sight, rounded, and the belief after it.
func measured(s coach.Sight, b coach.Belief) measureEvent {
	return measureEvent{
		T: s.T, Event: "measure", Width: s.Width, Height: s.Height,
		Found: s.Found, Why: s.Why, Seen: s.Seen,
		StarPx: xy(s.Star), RadiusPx: s.Radius, ShadowPx: s.Shadow,
		OffsetPx: xy(s.Offset), SigmaPx: xy(s.Sigma), Level: s.Level, Clipped: s.Clipped, Flags: s.Flags,
		Known: b.Known, AxisMM: vec(b.Axis, 4), AxisSigma: vec(b.AxisSigma, 4), Ratio: round(b.Ratio, 4), Bound: round(b.Bound, 4),
		Side: b.Side, SideChance: round(b.SideChance, 4), R0: round(b.R0, 1),
	}
}
