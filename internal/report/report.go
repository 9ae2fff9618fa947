// Package report makes a report of a night from its journal: as a page for a browser
// that needs no other file, as text, or as data.
package report

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"halocue/internal/coach"
	"halocue/internal/journal"
	"halocue/internal/optics"
)

// Night is one night, worked up. Lengths are mm on the sensor, relative to the
// target; times are seconds since the first frame.
type Night struct {
	ID      int64     `json:"night"`
	Kind    string    `json:"kind,omitempty"` // indoors, or "" for a night
	Began   time.Time `json:"began"`
	CutOff  bool      `json:"cut_off"`        // it has no end: power or program failed
	Lost    string    `json:"lost,omitempty"` // why the rest was not written: disk-full, failed
	Seconds float64   `json:"seconds"`
	Version string    `json:"version"`
	Result  string    `json:"result"` // aligned, ..., or ""

	ApertureMM    float64 `json:"aperture_mm"`
	FocalLengthMM float64 `json:"focal_length_mm"`
	ToleranceMM   float64 `json:"tolerance_mm"` // 0.0111 F^3; 0 where the telescope is not known

	Path   []Point `json:"path"`
	Knobs  []Knob  `json:"knobs,omitempty"`
	Events []Event `json:"events"`
	Faults int     `json:"faults"`
	Turns  int     `json:"turns"` // turn cues
	// FirstTurn is the time of the first of them, 0 where there is none.
	FirstTurn float64 `json:"first_turn,omitempty"`

	// Before and After are the rings of the pictures, or the first and the last measured.
	Before *Ring `json:"before,omitempty"`
	After  *Ring `json:"after,omitempty"`

	// Pictures are of the star itself, by their names: before, after.
	Pictures map[string]Picture `json:"pictures,omitempty"`

	words    *words
	tel      optics.Telescope
	rings    []*Ring
	memory   *coach.Memory // what it taught last, or nil
	turnEnds float64       // when the words of the first turn were out
}

// Knob is one of the main mirror's, and what it did. Turns are > 0 tightened.
type Knob struct {
	Name   string   `json:"name"`
	Clock  float64  `json:"clock"`            // seen from behind, hours
	Asked  float64  `json:"asked"`            // the sum of the cues
	Turned *float64 `json:"turned,omitempty"` // as the star told it; nil where nothing told it
}

// Picture is a small picture of the star, and where ring and shadow are in it, px.
type Picture struct {
	T      float64 `json:"t"`
	PNG    []byte  `json:"png"`
	Ring   Circle  `json:"ring"`
	Shadow Circle  `json:"shadow"`
}

// Circle is a circle in a picture; (0, 0) is the centre of the first pixel.
type Circle struct{ X, Y, Radius float64 }

// Point is the estimate at one time.
type Point struct {
	T     float64 `json:"t"`
	X     float64 `json:"x_mm"`
	Y     float64 `json:"y_mm"` // down in the frame
	Ratio float64 `json:"tolerance_ratio"`
	Bound float64 `json:"bound"`
	Waves float64 `json:"coma_waves_rms"` // of the axis point against the target
	R0    float64 `json:"r0_mm,omitempty"`
	Sigma float64 `json:"sigma_mm,omitempty"` // one-sigma of the axis point, each way
}

// error is how far from the axis point the estimate may be, tolerances (99.9 %).
func (p Point) error() float64 { return max(0, p.Bound-p.Ratio) }

// tells reports whether the estimate is worth showing: its error is below the distance that
// it gives, or below one tolerance.
func (p Point) tells() bool { return p.error() < max(1, p.Ratio) }

// Event is a line of the night's log.
type Event struct {
	T      float64 `json:"t"`
	Kind   string  `json:"kind"` // said, stage, device
	Text   string  `json:"text"`
	Code   string  `json:"code,omitempty"`   // of what was said
	Action string  `json:"action,omitempty"` // that it asked for
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
	Cell struct {
		Knobs []Knob `json:"knobs"`
	} `json:"mirror_cell"`
	Voice struct {
		Language string `json:"language"`
	} `json:"voice"`
}

func (s settings) optics() optics.Telescope {
	return optics.Telescope{Aperture: s.Telescope.ApertureMM, FocalLength: s.Telescope.FocalLengthMM, Secondary: s.Telescope.SecondaryMM}
}

// body is every field of the events that the report reads.
type body struct {
	Kind      string  `json:"kind"`
	Action    string  `json:"action"`
	Code      string  `json:"code"`
	Knob      string  `json:"knob"`
	Direction string  `json:"direction"`
	Turns     float64 `json:"turns"`
	Again     bool    `json:"again"`
	Seconds   float64 `json:"seconds"`
	Text      string  `json:"text"`
	Stage     string  `json:"stage"`
	Device    string  `json:"device"`
	State     string  `json:"state"`
	On        bool    `json:"on"`
	Detail    string  `json:"detail"`
	Found     bool    `json:"found"`
	Known     bool    `json:"known"`
	RadiusPx  float64 `json:"radius_px"`
	ShadowPx  float64 `json:"shadow_px"`
	OffsetPx  xy      `json:"offset_px"`
	AxisMM    xy      `json:"axis_mm"`
	Ratio     float64 `json:"tolerance_ratio"`
	Bound     float64 `json:"bound"`
	R0        float64 `json:"r0_mm"`
	Sigma     xy      `json:"axis_sigma_mm"`

	Memory *coach.Memory `json:"memory"`
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
		ID: entry.ID, Began: entry.Began, CutOff: entry.Ended.IsZero() && entry.Lost == "", Lost: entry.Lost, Version: entry.Version, Result: entry.Result,
		ApertureMM: s.Telescope.ApertureMM, FocalLengthMM: s.Telescope.FocalLengthMM,
		Path: []Point{}, Events: []Event{}, Knobs: s.Cell.Knobs, tel: s.optics(),
	}
	if n.words, err = newWords(s.Voice.Language); err != nil {
		return nil, err
	}
	if n.ApertureMM > 0 {
		n.ToleranceMM = n.tel.Tolerance()
	}
	for _, f := range facts {
		var b body
		if err := json.Unmarshal(f.Body, &b); err != nil {
			return nil, fmt.Errorf("reading what happened in night %d at %.1f s: %w", entry.ID, f.T, err)
		}
		n.add(f, b)
	}
	if err := n.show(ctx, j); err != nil {
		return nil, err
	}
	return n, nil
}

// show takes in the pictures, and the rings that were measured when they were taken.
func (n *Night) show(ctx context.Context, j *journal.Journal) error {
	pictures, err := j.Pictures(ctx, n.ID)
	if err != nil {
		return err
	}
	n.Pictures = map[string]Picture{}
	for _, p := range pictures {
		var shown Picture
		if json.Unmarshal(p.Marks, &shown) == nil && shown.Ring.Radius > 0 { // else it is damaged, and the night is told without it
			shown.T, shown.PNG = p.T, p.PNG
			n.Pictures[p.Name] = shown
		}
	}
	if len(n.rings) == 0 {
		return nil
	}
	n.Before, n.After = n.rings[0], n.rings[len(n.rings)-1]
	for name, ring := range map[string]**Ring{"before": &n.Before, "after": &n.After} {
		if p, ok := n.Pictures[name]; ok {
			*ring = slices.MinFunc(n.rings, func(a, b *Ring) int { return cmp.Compare(math.Abs(a.T-p.T), math.Abs(b.T-p.T)) })
		}
	}
	return nil
}

func (n *Night) add(f journal.Fact, b body) {
	n.Seconds = max(n.Seconds, f.T)
	switch f.Kind {
	case "say":
		n.Events = append(n.Events, Event{f.T, "said", b.Text, b.Code, b.Action})
		if b.Action == "turn" {
			n.turn(f.T, b)
		}
	case "learned":
		n.memory = b.Memory
		for i := range n.Knobs {
			if b.Memory != nil && i < len(b.Memory.Turned) && b.Memory.Turned != [3]float64{} {
				n.Knobs[i].Turned = &b.Memory.Turned[i]
			}
		}
	case "stage":
		n.Events = append(n.Events, Event{T: f.T, Kind: "stage", Text: b.Stage})
	case "device":
		if b.On || b.State == "lost" { // a motor that moves and a camera that is back are none
			n.Faults++
		}
		text := b.Device + " " + b.State
		if b.Detail != "" {
			text += ": " + b.Detail
		}
		n.Events = append(n.Events, Event{T: f.T, Kind: "device", Text: text})
	case "session":
		n.Kind = b.Kind
	case "look":
		n.looked(f.T, b)
	case "measure":
		n.measured(f.T, b)
	}
}

// turn takes in a turn that was asked for; one that was said again counts once.
func (n *Night) turn(t float64, b body) {
	if b.Again {
		return
	}
	if n.Turns++; n.Turns == 1 {
		n.FirstTurn, n.turnEnds = t, t+b.Seconds
	}
	for i := range n.Knobs {
		if k := &n.Knobs[i]; k.Name == b.Knob {
			k.Asked += map[string]float64{"tighten": b.Turns, "loosen": -b.Turns}[b.Direction]
		}
	}
}

func (n *Night) measured(t float64, b body) {
	if b.Found && b.RadiusPx > 0 {
		n.rings = append(n.rings, &Ring{t, b.RadiusPx, b.ShadowPx, b.OffsetPx.X, b.OffsetPx.Y})
	}
	if !b.Known {
		return
	}
	p := Point{T: t, X: b.AxisMM.X, Y: b.AxisMM.Y, Ratio: b.Ratio, Bound: b.Bound, R0: b.R0, Sigma: math.Hypot(b.Sigma.X, b.Sigma.Y) / math.Sqrt2}
	if n.ToleranceMM > 0 {
		p.Waves = n.tel.ComaRMS(b.Ratio * n.ToleranceMM)
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

// known returns the path from the first estimate that is worth showing.
func (n *Night) known() []Point {
	i := slices.IndexFunc(n.Path, Point.tells)
	if i < 0 {
		return nil
	}
	return n.Path[i:]
}

// found returns how the night found the mirror: what was known last before a turn of a
// knob could show, or nil.
func (n *Night) found() *Point {
	var found *Point
	for i, p := range n.known() {
		if n.Turns > 0 && p.T > n.turnEnds || i > 0 && n.Turns > 0 && p.T > n.FirstTurn {
			break
		}
		found = &p
	}
	return found
}

// left returns how the night left the mirror, or nil where that was not known.
func (n *Night) left() *Point {
	known := n.known()
	if len(known) == 0 || n.Lost != "" {
		return nil
	}
	return &known[len(known)-1]
}

// air returns the middle Fried parameter of the night, mm; 0 where it was not known.
func (n *Night) air() float64 {
	var all []float64
	for _, p := range n.Path {
		if p.R0 > 0 {
			all = append(all, p.R0)
		}
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[len(all)/2]
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
