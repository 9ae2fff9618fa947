// Package measure is what the command of that name computes: rings in still
// frames, and what they mean for the mirror, as JSON lines that other programs
// read.
package measure

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
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
	File     string   `json:"file,omitempty"`
	Combined bool     `json:"combined,omitempty"`
	Pair     bool     `json:"pair,omitempty"`
	Found    bool     `json:"found"`
	Why      ring.Why `json:"why"`
	Ring     *Circle  `json:"ring,omitempty"`
	Shadow   *Circle  `json:"shadow,omitempty"`
	Offset   *XY      `json:"offset_px,omitempty"`
	Coma     *XY      `json:"coma_offset_px,omitempty"`
	Sigma    *XY      `json:"sigma_px,omitempty"`
	Delta    *XY      `json:"silhouette,omitempty"`
	Axis     *XY      `json:"axis_mm,omitempty"`
	Waves    *float64 `json:"coma_waves_rms,omitempty"`
	// The secondary's diameter over the aperture's as the star shows it, and a pixel's
	// size where the fringes show it, each with its one-sigma.
	Secondary      *float64 `json:"secondary_ratio,omitempty"`
	SecondarySigma *float64 `json:"sigma_secondary_ratio,omitempty"`
	PixelUM        *float64 `json:"pixel_um,omitempty"`
	PixelSigma     *float64 `json:"sigma_pixel_um,omitempty"`

	Ratio  *float64    `json:"tolerance_ratio,omitempty"`
	Frames int         `json:"frames,omitempty"` // how many a combined line rests on
	Flags  []ring.Flag `json:"flags"`
	Vanes  []Vane      `json:"vanes,omitempty"`
	Figure *Figure     `json:"figure,omitempty"`
	Seeing *Seeing     `json:"seeing,omitempty"`
	Notes  []Note      `json:"notes,omitempty"` // remarks to a person
}

// Job measures still frames of one telescope and camera.
type Job struct {
	Telescope optics.Telescope
	PixelMM   float64 // 0 is unknown
	Read      func(path string) (*frame.Frame, error)
	English   Say // gives notes their text; nil: they have none

	seen func(*frame.Frame, Line) // each frame and its line; nil and what all say together
}

// tell emits a line: of a frame, or, where f is nil, of all of them.
func (j *Job) tell(f *frame.Frame, l Line, emit func(Line) error) error {
	for i, n := range l.Notes {
		if j.English != nil {
			l.Notes[i].Text = j.English("measure.note-"+n.Code, n.args...)
		}
	}
	if j.seen != nil {
		j.seen(f, l)
	}
	return emit(l)
}

func (j *Job) pixel() float64 {
	if j.PixelMM > 0 {
		return j.PixelMM
	}
	return optics.UsualPixelMM
}

// Frames measures each file and passes each line on as it is ready; with more
// than one file the last line combines them. It stops at the first file that
// cannot be read, and at the first error of emit.
func (j *Job) Frames(files []string, emit func(Line) error) error {
	frames, size, err := j.measureAll(files, emit)
	if err != nil || len(files) < 2 {
		return err
	}
	return j.tell(nil, j.combine(size, frames), emit)
}

// measureAll measures each file. It also returns the size of one of the frames, with a ring if any has one.
func (j *Job) measureAll(files []string, emit func(Line) error) (frames []Measured, size *frame.Frame, err error) {
	m := ring.NewMeter(ring.Config{Telescope: j.Telescope, PixelMM: j.PixelMM})
	for _, name := range files {
		f, err := j.Read(name)
		if err != nil {
			return nil, nil, err
		}
		k := measureAberrations(m, f)
		frames = append(frames, k)
		if size == nil || k.Found {
			size = &frame.Frame{Width: f.Width, Height: f.Height} // without the pixels, of which there may be many
		}
		l := j.informed(k).line(f, k)
		l.File = name
		j.shown(&l, k)
		if len(files) == 1 {
			j.informed(k).figured(&l, k)
		}
		if err := j.tell(f, l, emit); err != nil {
			return nil, nil, err
		}
	}
	return frames, size, nil
}

// measureAberrations measures a frame as well as it can.
func measureAberrations(m *ring.Meter, f *frame.Frame) Measured {
	r, g, ok := m.MeasureAberrations(f)
	if !ok {
		g = ring.Figure{}
	}
	return Measured{r, g}
}

// rings are the frames' measurements of the ring.
func rings(frames []Measured) (all []ring.Measurement) {
	for _, k := range frames {
		all = append(all, k.Measurement)
	}
	return all
}

// combine joins several frames of one pointing.
func (j *Job) combine(f *frame.Frame, frames []Measured) Line {
	c := ring.Combine(rings(frames))
	k := j.informed(frames...)
	l := k.line(f, Measured{Measurement: c.Measurement})
	l.Combined, l.Frames = true, c.Frames
	j.shown(&l, frames...)
	k.figured(&l, frames...)
	if !k.severalDefocuses(&l, f, frames) {
		k.air(&l, frames)
	}
	return l
}

// Pair measures frames inside and outside focus of one pointing, one or more of
// each.
func (j *Job) Pair(inside, outside []string, emit func(Line) error) error {
	in, f, err := j.measureAll(inside, emit)
	if err != nil {
		return err
	}
	out, g, err := j.measureAll(outside, emit)
	if err != nil {
		return err
	}
	both := slices.Concat(in, out)
	l := j.informed(both...).pair([2]*frame.Frame{f, g}, [2][]Measured{in, out})
	if l.Found {
		j.shown(&l, both...)
	}
	return j.tell(nil, l, emit)
}

// pair joins what the two sides of focus say.
func (j *Job) pair(f [2]*frame.Frame, frames [2][]Measured) Line {
	var r [2]ring.Measurement
	for i, side := range frames {
		if r[i] = side[0].Measurement; len(side) > 1 {
			r[i] = ring.Combine(rings(side)).Measurement
		}
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
	j.figuredPair(&l, frames[0], frames[1])
	for _, m := range r {
		for _, fl := range m.Flags {
			if fl != ring.OneSide && !slices.Contains(l.Flags, fl) {
				l.Flags = append(l.Flags, fl)
			}
		}
	}
	return l
}

// line tells what one measurement says.
func (j *Job) line(f *frame.Frame, m Measured) Line {
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
	l.vanes(m)
	j.meaning(&l, j.star(f, m.Ring, m.Offset), m.Offset)
	return l
}

// star returns where the star's chief ray meets the sensor, mm from the frame's centre.
// Coma has moved the ring's outline away from there by d / (1 - eps^2), opposite to the
// offset d.
func (j *Job) star(f *frame.Frame, c ring.Circle, coma r2.Vec) r2.Vec {
	e := j.Telescope.Obstruction()
	cx, cy := f.Centre()
	px := r2.Add(r2.Vec{X: c.X - cx, Y: c.Y - cy}, r2.Scale(1/(1-e*e), coma))
	return r2.Scale(j.pixel(), px)
}

// axis returns the axis point, mm from the frame's centre, for an offset, px, that is coma
// alone.
func (j *Job) axis(star, offset r2.Vec) r2.Vec {
	return j.Telescope.AxisPoint(star, r2.Scale(j.pixel(), offset))
}

// AxisPoint returns the axis point, mm from the frame's centre, that a measured ring shows.
func (j *Job) AxisPoint(f *frame.Frame, m ring.Measurement) r2.Vec {
	return j.axis(j.star(f, m.Ring, m.Offset), m.Offset)
}

// meaning adds the axis point and the coma for an offset, px, that is coma alone.
func (j *Job) meaning(l *Line, star, offset r2.Vec) {
	axis := j.axis(star, offset)
	h := r2.Norm(r2.Sub(star, axis))
	waves, ratio := j.Telescope.ComaRMS(h), h/j.Telescope.Tolerance()
	l.Axis, l.Waves, l.Ratio = xy(axis), &waves, &ratio
}
