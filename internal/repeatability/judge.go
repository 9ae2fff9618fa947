package repeatability

import (
	"context"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/measure"
	"halocue/internal/optics"
	"halocue/internal/plain"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// LookLine is the JSON line of one look.
type LookLine struct {
	Look  int         `json:"look"`
	Name  string      `json:"name"`
	Found bool        `json:"found"`
	Why   string      `json:"why"`
	Unit  string      `json:"unit"`
	At    *measure.XY `json:"at,omitempty"`
	Sigma *float64    `json:"sigma,omitempty"` // of measuring, per axis; left out where a single frame cannot tell
}

// Words says it in a line.
func (l LookLine) Words(say measure.Say) string {
	if !l.Found {
		return say("wobble.nothing", plain.Text(l.Name, 200), l.Why)
	}
	return say("wobble.look", plain.Text(l.Name, 200), measure.Way(say, *l.At, l.Unit))
}

// Result is the last JSON line: what all looks say.
type Result struct {
	Last      bool            `json:"result"`
	Looks     int             `json:"looks"`
	Unit      string          `json:"unit"`
	Mean      measure.XY      `json:"mean"`
	SD        float64         `json:"sd"`
	Noise     float64         `json:"measuring_sd"`
	Worst     float64         `json:"worst,omitempty"`
	Bound     *float64        `json:"bound_99,omitempty"`
	Tolerance float64         `json:"tolerance,omitempty"` // in the unit
	Verdict   Verdict         `json:"verdict,omitempty"`
	Needed    int             `json:"looks_needed,omitempty"`
	Circle    *measure.Circle `json:"circle,omitempty"`
	Centre    *measure.XY     `json:"sigma_centre,omitempty"`
	Radius    float64         `json:"sigma_radius,omitempty"`
	CentreIn  float64         `json:"centre_bound_99,omitempty"`
	RadiusMM  float64         `json:"radius_mm,omitempty"`
	Tilt      float64         `json:"tilt_arcmin,omitempty"`
	TOML      string          `json:"toml,omitempty"`
	Said      string          `json:"said"` // its Sentence in English
}

// meter measures the ring in a frame, beginning where the last one left it.
type meter interface {
	Track(*frame.Frame) ring.Measurement
}

// Job says what was measured, and with what.
type Job struct {
	Meter      meter
	Telescope  optics.Telescope
	PixelMM    float64
	Spot       bool    // the place of the light counts, not the axis point
	Turned     bool    // camera or tool was turned round between looks
	WallMM     float64 // of the wall in a pixel, for a tool's spot on it; else 0
	DistanceMM float64 // from the tool to the wall; 0 is not known
}

// Judge turns seatings into looks, passes each on, and returns what they say together.
func (g Job) Judge(ctx context.Context, seatings []Seating, emit func(LookLine) error) (Result, error) {
	var r Result
	unit, at := "px", g.lightAt
	if !g.Spot && !g.Turned {
		unit, at = "mm", g.axisAt
	}
	var looks []Look
	for i, s := range seatings {
		if ctx.Err() != nil {
			return r, ctx.Err()
		}
		l, why := at(s.Frames)
		line := LookLine{Look: i + 1, Name: s.Name, Found: why == "", Why: why, Unit: unit}
		if line.Found {
			line.At = &measure.XY{X: l.At.X, Y: l.At.Y}
			if l.Sigma > 0 {
				line.Sigma = &l.Sigma
			}
			looks = append(looks, l)
		}
		if err := emit(line); err != nil {
			return r, err
		}
	}
	if len(looks) < 3 {
		return r, fmt.Errorf("only %d of %d looks found anything; bring the light into the frame, and take at least three looks", len(looks), len(seatings))
	}
	tolerance := 0.0
	if g.WallMM == 0 {
		tolerance = g.Telescope.Tolerance()
		if unit == "px" {
			tolerance /= g.PixelMM
		}
	}
	s := Spread(looks)
	r = Result{Last: true, Unit: unit, Tolerance: tolerance, Worst: s.Worst}
	if g.Turned {
		t, err := Turn(looks)
		if err != nil {
			return r, fmt.Errorf("fitting a circle to the looks: %w", err)
		}
		s = t.scatter(len(looks), s.Noise)
		r.turned(t, g)
		if g.WallMM == 0 && t.Bound <= Share*tolerance && t.X >= 0 && t.Y >= 0 {
			r.TOML = fmt.Sprintf("centre_px = [%.1f, %.1f]", t.X, t.Y)
		}
	}
	r.Looks, r.Mean, r.SD, r.Noise = s.Looks, measure.XY(s.Mean), s.SD, s.Noise
	if !math.IsInf(s.Bound, 0) {
		r.Bound = &s.Bound
	}
	if tolerance > 0 {
		r.Verdict, r.Needed = s.Judge(tolerance), s.Needed(tolerance)
	}
	return r, nil
}

// turned adds what a circle says.
func (r *Result) turned(t Turned, g Job) {
	r.Worst = 0
	r.Circle = &measure.Circle{X: t.X, Y: t.Y, Radius: t.Radius}
	r.Centre, r.Radius, r.CentreIn = &measure.XY{X: t.CentreSigma.X, Y: t.CentreSigma.Y}, t.RadiusSigma, t.Bound
	r.RadiusMM = t.Radius * g.WallMM
	if g.DistanceMM > 0 {
		r.Tilt = Tilt(r.RadiusMM, g.DistanceMM) * 180 / math.Pi * 60
	}
}

// Sentence is what is said of it, "" where nothing was compared.
func (r Result) Sentence(say measure.Say) string {
	switch {
	case r.RadiusMM > 0:
		return say("wobble.spot-circle", r.RadiusMM)
	case r.Verdict != "":
		return say("wobble." + string(r.Verdict))
	}
	return ""
}

// Words says it in lines, all but the verdict.
func (r Result) Words(say measure.Say) string {
	lines := []string{say("wobble.wander", r.Looks, r.SD, r.Unit, r.Noise)}
	add := func(key string, args ...any) { lines = append(lines, say("wobble."+key, args...)) }
	if r.Bound != nil && r.Tolerance > 0 {
		add("within-of", *r.Bound, r.Unit, r.Tolerance)
	} else if r.Bound != nil {
		add("within", *r.Bound, r.Unit)
	}
	if r.Needed > 3 {
		add("averaging", r.Needed)
	}
	if c := r.Circle; c != nil {
		add("circle", c.X, c.Y, r.Centre.X, r.Centre.Y, c.Radius, r.Radius)
		if r.Tilt > 0 {
			add("tilt", r.Tilt)
		}
	}
	if r.TOML != "" {
		add("toml")
		lines = append(lines, r.TOML)
	}
	return strings.Join(lines, "\n")
}

// axisAt measures the axis point, mm from the frame's centre. Outlines are as true as a
// fitted model in real air, and far faster.
func (g Job) axisAt(frames []*frame.Frame) (Look, string) {
	var all []ring.Measurement
	for _, f := range frames {
		all = append(all, g.Meter.Track(f))
	}
	m := ring.Combine(all)
	if !m.Found {
		return Look{}, string(m.Why)
	}
	job := measure.Job{Telescope: g.Telescope, PixelMM: g.PixelMM}
	sigma := math.Hypot(m.Sigma.X, m.Sigma.Y) / math.Sqrt2 * g.PixelMM / g.Telescope.OffsetPerField()
	return Look{At: job.AxisPoint(frames[0], m.Measurement), Sigma: sigma}, ""
}

// lightAt measures where the light stands, px: a ring's centre, or a spot's.
func (g Job) lightAt(frames []*frame.Frame) (Look, string) {
	var places []Look
	why := ""
	for _, f := range frames {
		m := g.Meter.Track(f)
		at := r2.Vec{X: m.Ring.X, Y: m.Ring.Y}
		if !m.Found {
			var ok bool
			if at, ok = m.Spot(f); !ok {
				why = string(m.Why)
				continue
			}
		}
		places = append(places, Look{At: at})
	}
	if len(places) == 0 {
		return Look{}, why
	}
	s := Spread(places)
	return Look{At: s.Mean, Sigma: s.SD / math.Sqrt(float64(s.Looks))}, ""
}
