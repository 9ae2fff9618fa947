// Package report tells what a night was like, from its journal: as a page for a
// browser that needs nothing else, as text, or as data.
package report

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"halocue/internal/journal"
	"halocue/internal/optics"
)

// Night is one night, worked up. Lengths are mm on the sensor, relative to the
// target; times are seconds since the first frame.
type Night struct {
	ID      int64     `json:"night"`
	Kind    string    `json:"kind,omitempty"` // indoors, or "" for a night
	Began   time.Time `json:"began"`
	CutOff  bool      `json:"cut_off"` // it has no end: power or program failed
	Seconds float64   `json:"seconds"`
	Version string    `json:"version"`
	Result  string    `json:"result"` // aligned, ..., or ""

	ApertureMM    float64 `json:"aperture_mm"`
	FocalLengthMM float64 `json:"focal_length_mm"`
	ToleranceMM   float64 `json:"tolerance_mm"` // 0.0111 F^3; 0 where the telescope is not known

	Path   []Point `json:"path"`
	Events []Event `json:"events"`
	Faults int     `json:"faults"`
	Turns  int     `json:"turns"` // turn cues
	// FirstTurn is the time of the first of them, 0 where there is none.
	FirstTurn float64 `json:"first_turn,omitempty"`

	// Before and After are the first and the last ring that was measured.
	Before *Ring `json:"before,omitempty"`
	After  *Ring `json:"after,omitempty"`
}

// Point is what was believed at one time.
type Point struct {
	T     float64 `json:"t"`
	X     float64 `json:"x_mm"`
	Y     float64 `json:"y_mm"` // down in the frame
	Ratio float64 `json:"tolerance_ratio"`
	Bound float64 `json:"bound"`
	Waves float64 `json:"coma_waves_rms"` // of the axis point against the target
	R0    float64 `json:"r0_mm,omitempty"`
}

// Event is a line of the story.
type Event struct {
	T    float64 `json:"t"`
	Kind string  `json:"kind"` // said, stage, device
	Text string  `json:"text"`
}

// Ring is a measured ring, px.
type Ring struct {
	T       float64 `json:"t"`
	Radius  float64 `json:"radius_px"`
	Shadow  float64 `json:"shadow_px"`
	OffsetX float64 `json:"offset_x_px"`
	OffsetY float64 `json:"offset_y_px"`
}

// Lean returns the offset as a share of the radius.
func (r Ring) Lean() float64 { return math.Hypot(r.OffsetX, r.OffsetY) / r.Radius }

// settings are the parts of a night's settings that the report uses.
type settings struct {
	Telescope struct {
		ApertureMM    float64 `json:"aperture_mm"`
		FocalLengthMM float64 `json:"focal_length_mm"`
		SecondaryMM   float64 `json:"secondary_mm"`
	} `json:"telescope"`
}

func (s settings) optics() optics.Telescope {
	return optics.Telescope{Aperture: s.Telescope.ApertureMM, FocalLength: s.Telescope.FocalLengthMM, Secondary: s.Telescope.SecondaryMM}
}

// body is every field of the events that the report reads.
type body struct {
	Kind     string  `json:"kind"`
	Action   string  `json:"action"`
	Text     string  `json:"text"`
	Stage    string  `json:"stage"`
	Device   string  `json:"device"`
	State    string  `json:"state"`
	Detail   string  `json:"detail"`
	Found    bool    `json:"found"`
	Known    bool    `json:"known"`
	RadiusPx float64 `json:"radius_px"`
	ShadowPx float64 `json:"shadow_px"`
	OffsetPx xy      `json:"offset_px"`
	AxisMM   xy      `json:"axis_mm"`
	Ratio    float64 `json:"tolerance_ratio"`
	Bound    float64 `json:"bound"`
	R0       float64 `json:"r0_mm"`
}

type xy struct{ X, Y float64 }

// Load works up a night of the journal; 0 is the last.
func Load(ctx context.Context, j *journal.Journal, id int64) (*Night, error) {
	entry, err := j.Night(ctx, id)
	if err != nil {
		return nil, err
	}
	facts, err := j.Facts(ctx, entry.ID)
	if err != nil {
		return nil, err
	}
	var s settings
	if err := json.Unmarshal(entry.Settings, &s); err != nil {
		return nil, fmt.Errorf("reading the settings of night %d: %w", entry.ID, err)
	}
	n := &Night{
		ID: entry.ID, Began: entry.Began, CutOff: entry.Ended.IsZero(), Version: entry.Version, Result: entry.Result,
		ApertureMM: s.Telescope.ApertureMM, FocalLengthMM: s.Telescope.FocalLengthMM,
		Path: []Point{}, Events: []Event{},
	}
	tel := s.optics()
	if n.ApertureMM > 0 {
		n.ToleranceMM = tel.Tolerance()
	}
	for _, f := range facts {
		var b body
		if err := json.Unmarshal(f.Body, &b); err != nil {
			return nil, fmt.Errorf("reading what happened in night %d at %.1f s: %w", entry.ID, f.T, err)
		}
		n.add(f, b, tel)
	}
	return n, nil
}

func (n *Night) add(f journal.Fact, b body, tel optics.Telescope) {
	n.Seconds = max(n.Seconds, f.T)
	switch f.Kind {
	case "say":
		n.Events = append(n.Events, Event{f.T, "said", b.Text})
		if b.Action == "turn" {
			n.Turns++
			if n.Turns == 1 {
				n.FirstTurn = f.T
			}
		}
	case "stage":
		n.Events = append(n.Events, Event{f.T, "stage", b.Stage})
	case "device":
		n.Faults++
		text := b.Device + " " + b.State
		if b.Detail != "" {
			text += ": " + b.Detail
		}
		n.Events = append(n.Events, Event{f.T, "device", text})
	case "session":
		n.Kind = b.Kind
	case "look":
		n.looked(f.T, b)
	case "measure":
		n.measured(f.T, b, tel)
	}
}

func (n *Night) measured(t float64, b body, tel optics.Telescope) {
	if b.Found && b.RadiusPx > 0 {
		r := &Ring{t, b.RadiusPx, b.ShadowPx, b.OffsetPx.X, b.OffsetPx.Y}
		if n.Before == nil {
			n.Before = r
		}
		n.After = r
	}
	if !b.Known {
		return
	}
	p := Point{T: t, X: b.AxisMM.X, Y: b.AxisMM.Y, Ratio: b.Ratio, Bound: b.Bound, R0: b.R0}
	if n.ToleranceMM > 0 {
		p.Waves = tel.ComaRMS(b.Ratio * n.ToleranceMM)
	}
	n.Path = append(n.Path, p)
}

// looked takes in a look by day: how far the mirror's axis passes the middle of the
// focuser, mm, is known to half a millimetre or so.
func (n *Night) looked(t float64, b body) {
	if !b.Known {
		return
	}
	p := Point{T: t, X: b.AxisMM.X, Y: b.AxisMM.Y}
	if n.ToleranceMM > 0 {
		p.Ratio = math.Hypot(p.X, p.Y) / n.ToleranceMM
	}
	n.Path = append(n.Path, p)
}

// Name is what the page and the text are headed by.
func (n *Night) Name() string {
	if n.Kind == journal.Indoors {
		return "Day"
	}
	return "Night"
}

// First and Last return the ends of the path, or nil where there is none.
func (n *Night) First() *Point { return n.at(0) }

// Last returns the last point of the path, or nil.
func (n *Night) Last() *Point { return n.at(len(n.Path) - 1) }

func (n *Night) at(i int) *Point {
	if i < 0 || i >= len(n.Path) {
		return nil
	}
	return &n.Path[i]
}

// Table returns the path in at most rows points, evenly picked, ends included.
func (n *Night) Table(rows int) []Point {
	if len(n.Path) <= rows {
		return n.Path
	}
	picked := make([]Point, rows)
	for i := range picked {
		picked[i] = n.Path[i*(len(n.Path)-1)/(rows-1)]
	}
	return picked
}

// Outcome says the result as a sentence.
func (n *Night) Outcome() string {
	switch {
	case n.Result == "aligned":
		return "The mirror was aligned."
	case n.Result == "as-good-as-the-air-allows":
		return "The mirror was as good as the air allowed one to tell."
	case n.Result == "rough":
		return "By day both mirrors were brought roughly true: a star has the last word."
	case n.Result == "unchecked":
		return "By day the mark came to stand on the dark spot, but whether the hole in the plug is in the middle was not checked."
	case n.Result == "given-up":
		return "Halocue gave up."
	case n.CutOff:
		return "The night was cut off: the power or the program failed."
	default:
		return "The night ended without a result."
	}
}
