// Package measure is what the command of that name computes: rings in still
// frames, and what they mean for the mirror, as JSON lines that other programs
// read.
package measure

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
	"halocue/internal/optics"
	"halocue/vision/ring"
)

// XY is a vector in a JSON line.
type XY struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

func xy(v r2.Vec) *XY { return &XY{v.X, v.Y} }

// Circle is a circle in a JSON line, px.
type Circle struct {
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	Radius float64 `json:"radius"`
}

// Line is one JSON line. Fields that do not apply are left out; found, why and
// flags are always there.
type Line struct {
	File     string      `json:"file,omitempty"`
	Combined bool        `json:"combined,omitempty"`
	Pair     bool        `json:"pair,omitempty"`
	Found    bool        `json:"found"`
	Why      ring.Why    `json:"why"`
	Ring     *Circle     `json:"ring,omitempty"`
	Shadow   *Circle     `json:"shadow,omitempty"`
	Offset   *XY         `json:"offset_px,omitempty"`
	Coma     *XY         `json:"coma_offset_px,omitempty"`
	Sigma    *XY         `json:"sigma_px,omitempty"`
	Delta    *XY         `json:"silhouette,omitempty"`
	Axis     *XY         `json:"axis_mm,omitempty"`
	Waves    *float64    `json:"coma_waves_rms,omitempty"`
	Ratio    *float64    `json:"tolerance_ratio,omitempty"`
	Frames   int         `json:"frames,omitempty"` // how many a combined line rests on
	Flags    []ring.Flag `json:"flags"`
}

// Job measures still frames of one telescope and camera.
type Job struct {
	Telescope optics.Telescope
	PixelMM   float64 // 0 is unknown
	Read      func(path string) (*frame.Frame, error)

	seen func(*frame.Frame, Line) // each frame and its line; nil and what all say together
}

// tell passes a line on: of a frame, or, where f is nil, of all of them.
func (j *Job) tell(f *frame.Frame, l Line, emit func(Line) error) error {
	if j.seen != nil {
		j.seen(f, l)
	}
	return emit(l)
}

func (j *Job) pixel() float64 {
	if j.PixelMM > 0 {
		return j.PixelMM
	}
	return ring.AssumedPixelMM
}

func (j *Job) meter() *ring.Meter {
	return ring.NewMeter(ring.Config{Telescope: j.Telescope, PixelMM: j.PixelMM})
}

// Frames measures each file and passes each line on as it is ready; with more
// than one file the last line combines them. It stops at the first file that
// cannot be read, and at the first error of emit.
func (j *Job) Frames(files []string, emit func(Line) error) error {
	m := j.meter()
	var all []ring.Measurement
	var size *frame.Frame
	for _, name := range files {
		f, err := j.Read(name)
		if err != nil {
			return err
		}
		r := m.Measure(f)
		all = append(all, r)
		if size == nil || r.Found {
			size = f
		}
		l := j.line(f, r)
		l.File = name
		if err := j.tell(f, l, emit); err != nil {
			return err
		}
	}
	if len(files) < 2 {
		return nil
	}
	c := ring.Combine(all)
	l := j.line(size, c.Measurement)
	l.Combined, l.Frames = true, c.Frames
	return j.tell(nil, l, emit)
}

// Pair measures an inside and an outside frame of one pointing.
func (j *Job) Pair(inside, outside string, emit func(Line) error) error {
	m := j.meter()
	var r [2]ring.Measurement
	var f [2]*frame.Frame
	for i, name := range []string{inside, outside} {
		var err error
		if f[i], err = j.Read(name); err != nil {
			return err
		}
		r[i] = m.Measure(f[i])
		l := j.line(f[i], r[i])
		l.File = name
		if err := j.tell(f[i], l, emit); err != nil {
			return err
		}
	}
	return j.tell(nil, j.pair(f, r), emit)
}

// pair joins what the two sides of focus say.
func (j *Job) pair(f [2]*frame.Frame, r [2]ring.Measurement) Line {
	for i := range r {
		if !r[i].Found {
			return Line{Pair: true, Why: r[i].Why, Flags: []ring.Flag{}}
		}
	}
	a, b := r[0].Ring.Radius, r[1].Ring.Radius
	coma, delta := optics.Pair(r[0].Offset, r[1].Offset, a, b)
	sigma := r2.Vec{
		X: math.Hypot(b*r[0].Sigma.X, a*r[1].Sigma.X) / (a + b),
		Y: math.Hypot(b*r[0].Sigma.Y, a*r[1].Sigma.Y) / (a + b),
	}
	l := Line{Pair: true, Found: true, Coma: xy(coma), Sigma: xy(sigma), Delta: xy(delta), Flags: []ring.Flag{}}
	// Both frames have the star at their own place: the axis point is that of the
	// mean, as if neither had moved.
	var star r2.Vec
	for i := range r {
		star = r2.Add(star, r2.Scale(0.5, j.star(f[i], r[i].Ring, coma)))
	}
	j.meaning(&l, star, coma)
	for _, m := range r {
		for _, fl := range m.Flags {
			if fl != ring.OneSide && !has(l.Flags, fl) {
				l.Flags = append(l.Flags, fl)
			}
		}
	}
	return l
}

func has(list []ring.Flag, f ring.Flag) bool {
	for _, x := range list {
		if x == f {
			return true
		}
	}
	return false
}

// line tells what one measurement says.
func (j *Job) line(f *frame.Frame, m ring.Measurement) Line {
	l := Line{Found: m.Found, Why: m.Why, Flags: m.Flags}
	if l.Flags == nil {
		l.Flags = []ring.Flag{}
	}
	if !m.Found {
		return l
	}
	l.Ring = &Circle{m.Ring.X, m.Ring.Y, m.Ring.Radius}
	l.Shadow = &Circle{m.Shadow.X, m.Shadow.Y, m.Shadow.Radius}
	l.Offset, l.Sigma = xy(m.Offset), xy(m.Sigma)
	j.meaning(&l, j.star(f, m.Ring, m.Offset), m.Offset)
	return l
}

// star returns where the star's chief ray falls, mm from the frame's centre:
// coma has moved the ring's outline away from it by d / (1 - eps^2), against the
// offset d (design 2.3).
func (j *Job) star(f *frame.Frame, c ring.Circle, coma r2.Vec) r2.Vec {
	e := j.Telescope.Obstruction()
	cx, cy := f.Centre()
	px := r2.Add(r2.Vec{X: c.X - cx, Y: c.Y - cy}, r2.Scale(1/(1-e*e), coma))
	return r2.Scale(j.pixel(), px)
}

// meaning adds the axis point and the coma for an offset, px, that is coma alone.
func (j *Job) meaning(l *Line, star, offset r2.Vec) {
	axis := j.Telescope.AxisPoint(star, r2.Scale(j.pixel(), offset))
	h := r2.Norm(r2.Sub(star, axis))
	waves, ratio := j.Telescope.ComaRMS(h), h/j.Telescope.Tolerance()
	l.Axis, l.Waves, l.Ratio = xy(axis), &waves, &ratio
}

// Words says a line to a person.
func (l Line) Words() string {
	name := l.File
	switch {
	case l.Combined:
		name = fmt.Sprintf("together (%d frames)", l.Frames)
	case l.Pair:
		name = "both sides"
	}
	if !l.Found {
		return fmt.Sprintf("%s: no measurement, %s", name, reasons[l.Why])
	}
	off := l.Offset
	if off == nil {
		off = l.Coma
	}
	return fmt.Sprintf("%s: the shadow leans %s (give or take %.2f); coma %.3f waves RMS, %.2f of the tolerance; axis point %s of the frame's centre",
		name, way(*off, "px"), math.Hypot(l.Sigma.X, l.Sigma.Y)/math.Sqrt2, *l.Waves, *l.Ratio, way(*l.Axis, "mm"))
}

// way says a vector as a person points.
func way(v XY, unit string) string {
	x, y := "right", "down"
	if v.X < 0 {
		x = "left"
	}
	if v.Y < 0 {
		y = "up"
	}
	return fmt.Sprintf("%.2f %s %s and %.2f %s %s", math.Abs(v.X), unit, x, math.Abs(v.Y), unit, y)
}

// reasons says every code, and what to do next.
var reasons = map[ring.Why]string{
	ring.Dark:      "there is no light in the frame: take the caps off, find the star, or expose longer",
	ring.TooBright: "the frame is flooded with light: expose less, and never point at the Sun",
	ring.NoRing:    "there is light but nothing like a ring: put a bright star in the frame and rack it out of focus",
	ring.Focused:   "the star is too near focus: rack out until it is a ring with a dark middle",
	ring.NoShadow:  "there is a disc without a shadow: rack further out of focus, or expose less",
	ring.CutOff:    "too much of the ring is off the frame: bring the star nearer the middle",
	ring.Clipped:   "the ring is burnt out: expose less",
	ring.Faint:     "the ring is too faint: expose longer, or take a brighter star",
	ring.Blurred:   "the ring is smeared: let the mount settle, and look for dew",
	ring.TwoStars:  "two rings run into each other: take a single star, or less defocus",
}
