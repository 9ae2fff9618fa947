package main

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/frame"
	"halocue/internal/measure"
	"halocue/internal/wobble"
	"halocue/vision/ring"
)

// lookLine is the JSON line of one look.
type lookLine struct {
	Look  int         `json:"look"`
	Name  string      `json:"name"`
	Found bool        `json:"found"`
	Why   string      `json:"why"`
	Unit  string      `json:"unit"`
	At    *measure.XY `json:"at,omitempty"`
	Sigma *float64    `json:"sigma,omitempty"` // of measuring, per axis; left out where a single frame cannot tell
}

func (l lookLine) words() string {
	if !l.Found {
		return fmt.Sprintf("%s: no measurement (%s)", l.Name, l.Why)
	}
	return fmt.Sprintf("%s: %.2f right, %.2f down, %s", l.Name, l.At.X, l.At.Y, l.Unit)
}

// wobbleLine is the last JSON line: what all looks say.
type wobbleLine struct {
	Result    bool            `json:"result"`
	Looks     int             `json:"looks"`
	Unit      string          `json:"unit"`
	Mean      measure.XY      `json:"mean"`
	SD        float64         `json:"sd"`
	Noise     float64         `json:"measuring_sd"`
	Worst     float64         `json:"worst,omitempty"`
	Bound     *float64        `json:"bound_99,omitempty"`
	Tolerance float64         `json:"tolerance,omitempty"` // in the unit
	Verdict   wobble.Verdict  `json:"verdict,omitempty"`
	Needed    int             `json:"looks_needed,omitempty"`
	Circle    *measure.Circle `json:"circle,omitempty"`
	Centre    *measure.XY     `json:"sigma_centre,omitempty"`
	Radius    float64         `json:"sigma_radius,omitempty"`
	CentreIn  float64         `json:"centre_bound_99,omitempty"`
	RadiusMM  float64         `json:"radius_mm,omitempty"`
	Tilt      float64         `json:"tilt_arcmin,omitempty"`
	TOML      string          `json:"toml,omitempty"`
	Said      string          `json:"said"`
}

// judge turns seatings into looks, passes each on, and tells what they say together.
func (g wobbleFlags) judge(ctx context.Context, c config.Config, seatings []seating, emit func(any, string) error) (wobbleLine, error) {
	var r wobbleLine
	unit, at := "px", lightOf(c)
	if !g.spot && !g.turned {
		unit, at = "mm", axisOf(c)
	}
	var looks []wobble.Look
	for i, s := range seatings {
		if ctx.Err() != nil {
			return r, ctx.Err()
		}
		l, why := at(s.frames)
		line := lookLine{Look: i + 1, Name: s.name, Found: why == "", Why: why, Unit: unit}
		if line.Found {
			line.At = &measure.XY{X: l.At.X, Y: l.At.Y}
			if l.Sigma > 0 {
				line.Sigma = &l.Sigma
			}
			looks = append(looks, l)
		}
		if err := emit(line, line.words()); err != nil {
			return r, err
		}
	}
	if len(looks) < 3 {
		return r, fmt.Errorf("only %d of %d looks found anything; bring the light into the frame, and take at least three looks", len(looks), len(seatings))
	}
	mm, _ := c.Camera.Pixel()
	tolerance := 0.0
	if g.wallMM == 0 {
		tolerance = c.Optics().Tolerance()
		if unit == "px" {
			tolerance /= mm
		}
	}
	s := wobble.Spread(looks)
	r = wobbleLine{Result: true, Unit: unit, Tolerance: tolerance, Worst: s.Worst}
	if g.turned {
		t, err := wobble.Turn(looks)
		if err != nil {
			return r, fmt.Errorf("fitting a circle to the looks: %w", err)
		}
		s = t.Scatter(len(looks), s.Noise)
		r.turned(t, g)
		if g.wallMM == 0 && t.Bound <= wobble.Share*tolerance && t.X >= 0 && t.Y >= 0 {
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
	r.Said = r.verdict()
	return r, nil
}

// turned adds what a circle says.
func (r *wobbleLine) turned(t wobble.Turned, g wobbleFlags) {
	r.Worst = 0
	r.Circle = &measure.Circle{X: t.X, Y: t.Y, Radius: t.Radius}
	r.Centre, r.Radius, r.CentreIn = &measure.XY{X: t.CentreSigma.X, Y: t.CentreSigma.Y}, t.RadiusSigma, t.Bound
	r.RadiusMM = t.Radius * g.wallMM
	if g.distanceMM > 0 {
		r.Tilt = wobble.Tilt(r.RadiusMM, g.distanceMM) * 180 / math.Pi * 60
	}
}

// verdict says it in a sentence.
func (r wobbleLine) verdict() string {
	s := map[wobble.Verdict]string{
		wobble.Trusted:    "The focuser can be trusted.",
		wobble.WithCare:   "The focuser can be used with care: seat the camera the same way every time.",
		wobble.NotTrusted: "The focuser cannot be trusted: the answer wanders by more than the tolerance. Tighten the focuser and its clamp, and do this again.",
		wobble.CannotTell: "I cannot tell yet: take more looks, each of them longer.",
		"":                "",
	}[r.Verdict]
	if r.RadiusMM > 0 {
		s = fmt.Sprintf("The spot draws a circle of %.1f millimetres radius.", r.RadiusMM)
	}
	return s
}

func (r wobbleLine) words() string {
	s := fmt.Sprintf("%d looks wander by %.2f %s (standard deviation per axis; measuring alone makes %.2f).", r.Looks, r.SD, r.Unit, r.Noise)
	if r.Bound != nil {
		s += fmt.Sprintf("\n99 of 100 seatings fall within %.2f %s", *r.Bound, r.Unit)
		if r.Tolerance > 0 {
			s += fmt.Sprintf("; the tolerance is %.2f", r.Tolerance)
		}
		s += "."
	}
	if r.Needed > 3 {
		s += fmt.Sprintf("\nAveraging %d seatings would be good to a third of the tolerance.", r.Needed)
	}
	if c := r.Circle; c != nil {
		s += fmt.Sprintf("\nTurning draws a circle about %.1f, %.1f px (give or take %.1f, %.1f) of radius %.1f px (give or take %.1f).",
			c.X, c.Y, r.Centre.X, r.Centre.Y, c.Radius, r.Radius)
		if r.Tilt > 0 {
			s += fmt.Sprintf("\nThe beam leaves its holder's axis by %.1f arc minutes.", r.Tilt)
		}
	}
	if r.Said != "" {
		s += "\n" + r.Said
	}
	if r.TOML != "" {
		s += "\nThe focuser's true centre; under [camera] in the settings that is:\n" + r.TOML
	}
	return s
}

// axisOf measures the axis point, mm from the frame's centre: the ring's centre, less
// what coma has moved it (as internal/measure has it), and the offset over K. Outlines
// are as true as a fitted model in real air, and far faster.
func axisOf(c config.Config) func([]*frame.Frame) (wobble.Look, string) {
	mm, _ := c.Camera.Pixel()
	t := c.Optics()
	meter := newMeter(c)
	return func(frames []*frame.Frame) (wobble.Look, string) {
		var all []ring.Measurement
		for _, f := range frames {
			all = append(all, meter.Track(f))
		}
		m := ring.Combine(all)
		if !m.Found {
			return wobble.Look{}, string(m.Why)
		}
		cx, cy := frames[0].Centre()
		e := t.Obstruction()
		star := r2.Add(r2.Vec{X: m.Ring.X - cx, Y: m.Ring.Y - cy}, r2.Scale(1/(1-e*e), m.Offset))
		at := t.AxisPoint(r2.Scale(mm, star), r2.Scale(mm, m.Offset))
		return wobble.Look{At: at, Sigma: math.Hypot(m.Sigma.X, m.Sigma.Y) / math.Sqrt2 * mm / t.OffsetPerField()}, ""
	}
}

// lightOf measures where the light stands, px: a ring's centre, or a spot's.
func lightOf(c config.Config) func([]*frame.Frame) (wobble.Look, string) {
	if c.Telescope.ApertureMM == 0 || c.Telescope.FocalLengthMM == 0 { // any usual one finds a ring
		c.Telescope.ApertureMM, c.Telescope.FocalLengthMM = 150, 750
	}
	meter := newMeter(c)
	return func(frames []*frame.Frame) (wobble.Look, string) {
		var places []wobble.Look
		why := ""
		for _, f := range frames {
			m := meter.Track(f)
			at := r2.Vec{X: m.Ring.X, Y: m.Ring.Y}
			if !m.Found {
				var ok bool
				if at, ok = light(f, m); !ok {
					why = string(m.Why)
					continue
				}
			}
			places = append(places, wobble.Look{At: at})
		}
		if len(places) == 0 {
			return wobble.Look{}, why
		}
		s := wobble.Spread(places)
		return wobble.Look{At: s.Mean, Sigma: s.SD / math.Sqrt(float64(s.Looks))}, ""
	}
}
