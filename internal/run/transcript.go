package run

import (
	"encoding/json"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/floats/scalar"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/observe"
)

// Transcript writes what happens as JSON lines, each flushed as it is written:
// the outside contract of a night. The zero of its time is the first frame, and the
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
type xy = observe.XY

func vec(v r2.Vec, digits int) xy { return xy{X: round(v.X, digits), Y: round(v.Y, digits)} }

// round keeps the lines short; a transcript needs no seventeen digits. JSON has
// no infinities: what is not finite becomes 0.
func round(v float64, digits int) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return scalar.Round(v, digits)
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
		Again     bool    `json:"again,omitempty"`   // what was asked for before, in the same words
		Why       string  `json:"why,omitempty"`     // it is said again
		GoalPx    *xy     `json:"goal_px,omitempty"` // of a recentre: where the star should go; none is the middle
		Seconds   float64 `json:"seconds"`           // how long the words take
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
	saidEvent struct { // by the wall clock
		T     float64 `json:"t"`
		Event string  `json:"event"` // said: it was seen that the words are out
	}
	signalEvent struct {
		T      float64 `json:"t"`
		Event  string  `json:"event"` // signal
		Signal string  `json:"signal"`
	}
	measureEvent struct {
		T     float64 `json:"t"`
		Event string  `json:"event"` // measure

		observe.Record

		At float64 `json:"at,omitempty"` // when it was known, by the wall clock

		// The estimate after it.
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
		Code   string  `json:"code,omitempty"` // of what is said of it,
		On     bool    `json:"on,omitempty"`   // and whether that holds now
	}
)

// rounded keeps of a sight what the transcript keeps, far below any noise: so
// that a replay of the transcript is the night to the letter.
func rounded(s observe.Sight) observe.Sight {
	v := func(p r2.Vec) r2.Vec { return r2.Vec(vec(p, 4)) }
	s.T = round(s.T, 4)
	s.Star, s.Offset, s.Sigma = v(s.Star), v(s.Offset), v(s.Sigma)
	s.Radius, s.Shadow = round(s.Radius, 4), round(s.Shadow, 4)
	s.Level, s.Clipped = round(s.Level, 4), round(s.Clipped, 4)
	return s
}

// measured is the event of one sight, rounded, and the estimate after it.
func measured(s observe.Sight, b cue.Estimate) measureEvent {
	return measureEvent{
		T: s.T, Event: "measure", Record: s.Record(),
		Known: b.Known, AxisMM: vec(b.Axis, 4), AxisSigma: vec(b.AxisSigma, 4), Ratio: round(b.Ratio, 4), Bound: round(b.Bound, 4),
		Side: b.Side, SideChance: round(b.SideChance, 4), R0: round(b.R0, 1),
	}
}

// downEvent is what a frame told by day.
type downEvent struct {
	T           float64 `json:"t"`
	Event       string  `json:"event"` // look
	Found       bool    `json:"found"`
	Why         string  `json:"why,omitempty"`
	Whole       bool    `json:"whole,omitzero"`
	PrimaryPx   xy      `json:"primary_px,omitzero"`
	RadiusPx    float64 `json:"primary_radius_px,omitzero"`
	SecondaryPx xy      `json:"secondary_px,omitzero"`
	RimPx       float64 `json:"secondary_radius_px,omitzero"`
	Marked      bool    `json:"marked,omitzero"`
	MarkPx      xy      `json:"mark_px,omitzero"`
	Reflected   bool    `json:"reflected,omitzero"`
	SpotPx      xy      `json:"spot_px,omitzero"`
	SigmaPx     float64 `json:"sigma_px,omitzero"`
	Known       bool    `json:"known,omitzero"`
	AxisMM      xy      `json:"axis_mm,omitzero"`
	Ratio       float64 `json:"goal_ratio,omitzero"` // what is left, in goals
}

// measuredDown is the event of a sight by day. Without a view only its reason stands.
func measuredDown(s observe.Sight, b cue.Estimate) downEvent {
	e := downEvent{T: round(s.T, 3), Event: "look", Found: s.Found, Why: s.Why, Known: b.Known, AxisMM: vec(b.Axis, 3), Ratio: round(b.Ratio, 3)}
	if d := s.Down; d != nil {
		px := func(v r2.Vec) xy { return vec(v, 2) }
		e.Whole, e.PrimaryPx, e.RadiusPx, e.SecondaryPx, e.RimPx = d.Whole, px(d.Primary), round(d.PrimaryRadius, 2), px(d.Secondary), round(d.SecondaryRadius, 2)
		e.Marked, e.MarkPx, e.Reflected, e.SpotPx, e.SigmaPx = d.Marked, px(d.Mark), d.Reflected, px(d.Spot), round(d.SpotSigma, 3)
	}
	return e
}
