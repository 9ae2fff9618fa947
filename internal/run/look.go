package run

import (
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/vision/frame"
)

// Coach decides what to do next, by night (package night) or by day (package
// day). Times are seconds since the first frame. It is told of each cue when its
// words begin and when they are out, or that they will never be said.
type Coach interface {
	See(observe.Sight) cue.Advice
	Hear(cmd cue.Command, t float64) cue.Advice
	Began(id int, t float64)
	Ended(id int, t float64)
	Dropped(id int)
	Hush(on bool) // as long as the introduction is said, nothing is asked for that can wait
	Driven(t float64) bool
	Arrived(t float64, through bool)
	Memory() (coach.Memory, bool)
}

// look measures a frame.
func (n *night) look(t float64, f *frame.Frame) observe.Sight {
	if n.Look != nil {
		return n.Look(t, f)
	}
	m := n.Meter.Track(f)
	n.album.see(t, f, m)
	s := sight(t, f, m)
	s.Facts = n.Figure.facts()
	if n.Keep != nil {
		n.Keep(t, f, s)
	}
	return s
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

// lookedDown is the event of a sight by day. Without a view only its reason stands.
func lookedDown(s observe.Sight, b cue.Estimate) downEvent {
	e := downEvent{T: round(s.T, 3), Event: "look", Found: s.Found, Why: s.Why, Known: b.Known, AxisMM: vec(b.Axis, 3), Ratio: round(b.Ratio, 3)}
	if d := s.Down; d != nil {
		px := func(v r2.Vec) xy { return vec(v, 2) }
		e.Whole, e.PrimaryPx, e.RadiusPx, e.SecondaryPx, e.RimPx = d.Whole, px(d.Primary), round(d.PrimaryRadius, 2), px(d.Secondary), round(d.SecondaryRadius, 2)
		e.Marked, e.MarkPx, e.Reflected, e.SpotPx, e.SigmaPx = d.Marked, px(d.Mark), d.Reflected, px(d.Spot), round(d.SpotSigma, 3)
	}
	return e
}
