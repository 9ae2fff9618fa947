package measure

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/ring"
)

// Measured is one frame, measured.
type Measured struct {
	ring.Measurement
	Figure ring.Figure // Fresnel is 0 where there is none
}

// Vane is a spider vane in a JSON line: the direction in which it leaves the
// shadow, degrees from the frame's right, clockwise, and its width, px.
type Vane struct {
	Angle float64 `json:"angle_deg"`
	Width float64 `json:"width_px"`
}

// Figure is what a ring shows besides coma, in a JSON line: waves RMS at 550 nm,
// and one-sigmas which hold the light and the air. Angle is that of the longer
// axis of the ring (outside focus, where both sides were seen), degrees from the
// frame's right, clockwise.
type Figure struct {
	Astigmatism    float64 `json:"astigmatism_waves_rms"`
	Angle          float64 `json:"long_axis_deg"`
	AstigSigma     float64 `json:"sigma_astigmatism"`
	Spherical      float64 `json:"spherical_waves_rms"`
	SphericalSigma float64 `json:"sigma_spherical"`
}

// Note is a remark to a person: a code for programs, and words.
type Note struct {
	Code string `json:"code"`
	Text string `json:"text"` // in English

	args []any // what fills its sentence in
}

// Codes of notes.
const (
	NoteAstigmatism = "astigmatism" // of the light: it turned by a quarter through focus
	NoteOval        = "oval"        // of one side only: astigmatism, or a camera that is askew
	NoteAskew       = "askew"       // oval alike on both sides of focus
	NoteSpherical   = "spherical"
	NoteShaken      = "shaken" // the star moves more than the air would move it
)

// The conditions for a remark. Judgement; that a perfect mirror gets none is tested (go
// test ./internal/measure -run NoNote).
const (
	leastWaves  = 0.04 // waves RMS: half the tolerance
	leastSigmas = 5
	worstAir    = 30 // r0, mm, that a single short exposure may have been taken through
	airWeight   = 6  // weight of that guess, in deviations from the mean
	leastAskew  = 0.01
)

// term is an aberration averaged over frames: its mean per axis and one-sigma.
type term struct {
	r2.Vec
	sigma float64
}

// averaged joins frames of one pointing. noll is the variance per axis that the air gives
// the term, rad^2 where D = r0. The scatter of a few frames is not well known, so it is
// averaged with that of bad air (worstAir).
func (j *Job) averaged(v, light []r2.Vec, noll float64) term {
	n := float64(len(v))
	var mean r2.Vec
	var lit float64
	for i := range v {
		mean = r2.Add(mean, r2.Scale(1/n, v[i]))
		lit += r2.Norm2(light[i]) / 2 / n
	}
	air := noll / (4 * math.Pi * math.Pi) * math.Pow(j.Telescope.Aperture/worstAir, 5.0/3)
	sum, alike := 0.0, 0.0
	for i, d := range v {
		d = r2.Sub(d, mean)
		sum += r2.Norm2(d)
		if i > 0 {
			alike += r2.Dot(d, r2.Sub(v[i-1], mean))
		}
	}
	one := (sum + airWeight*(air+lit)) / (2*(n-1) + airWeight)
	rho := math.Min(math.Max(alike/max(sum, 1e-12), 0), 0.9) // autocorrelation of neighbours
	return term{mean, math.Sqrt(max(one, lit) / n * (1 + rho) / (1 - rho))}
}

// terms returns astigmatism and (as X) spherical aberration of these frames, waves RMS in
// the picture, and the mean radius of their rings, px.
func (j *Job) terms(frames []Measured) (astig, spherical term, radius float64, ok bool) {
	var a, as, s, ss []r2.Vec
	for _, l := range frames {
		if g, r := l.Figure, l.Ring.Radius; l.Found && g.Fresnel > 0 {
			a = append(a, r2.Vec{X: g.AstigmatismWaves(g.Astigmatism.X, r), Y: g.AstigmatismWaves(g.Astigmatism.Y, r)})
			as = append(as, r2.Vec{X: g.AstigmatismWaves(g.AstigmatismSigma.X, r), Y: g.AstigmatismWaves(g.AstigmatismSigma.Y, r)})
			s = append(s, r2.Vec{X: g.SphericalWaves(g.Spherical, r)})
			one := g.SphericalWaves(g.SphericalSigma, r)
			ss = append(ss, r2.Vec{X: one, Y: one})
			radius += r
		}
	}
	if len(a) == 0 {
		return astig, spherical, 0, false
	}
	return j.averaged(a, as, 0.02322), j.averaged(s, ss, 0.00245), radius / float64(len(a)), true
}

// figured adds to a line what one side of focus shows besides coma.
func (j *Job) figured(l *Line, frames ...Measured) {
	a, s, _, ok := j.terms(frames)
	if !ok {
		return
	}
	l.Figure = figureOf(a, s)
	if a.stands() {
		l.note(NoteOval, r2.Norm(a.Vec))
	}
	if s.stands() {
		l.note(NoteSpherical, math.Abs(s.X))
	}
}

// figuredPair adds what both sides of focus show. Through focus astigmatism turns by a
// quarter turn and spherical aberration changes its sign. A part that does not comes from
// the camera, or from an error in the secondary's size (compare optics.Pair).
func (j *Job) figuredPair(l *Line, inside, outside []Measured) {
	a, s, rIn, ok := j.terms(inside)
	b, t, rOut, ok2 := j.terms(outside)
	if !ok || !ok2 {
		return
	}
	// In waves what is in the camera grows with the ring.
	p, q := rIn/(rIn+rOut), rOut/(rIn+rOut)
	part := func(a, b term) term {
		return term{r2.Sub(r2.Scale(q, a.Vec), r2.Scale(p, b.Vec)), math.Hypot(q*a.sigma, p*b.sigma)}
	}
	astig, spherical := part(a, b), part(s, t)
	l.Figure = figureOf(term{r2.Scale(-1, astig.Vec), astig.sigma}, spherical)
	if astig.stands() {
		l.note(NoteAstigmatism, r2.Norm(astig.Vec))
	}
	// One wave of either is so many radii in the mean ring.
	perWave := 2 * math.Sqrt(6) * j.pixelsPerFresnel() / (rIn + rOut)
	same := term{r2.Scale(perWave, r2.Add(a.Vec, b.Vec)), perWave * math.Hypot(a.sigma, b.sigma)}
	if r2.Norm(same.Vec) > max(leastAskew, leastSigmas*same.sigma) {
		l.note(NoteAskew, 100*r2.Norm(same.Vec))
	}
	if spherical.stands() {
		l.note(NoteSpherical, math.Abs(spherical.X))
	}
}

// Remarks returns the notes that frames from both sides of focus give rise to.
func (j *Job) Remarks(inside, outside []Measured) []Note {
	var l Line
	j.figuredPair(&l, inside, outside)
	return l.Notes
}

// pixelsPerFresnel returns px of ring radius per Fresnel number: R = 2 F lambda N.
func (j *Job) pixelsPerFresnel() float64 {
	return 2 * j.Telescope.FocalRatio() * optics.Wavelength / j.pixel()
}

// stands reports whether a term is large and certain enough for a remark.
func (t term) stands() bool {
	return r2.Norm(t.Vec) > max(leastWaves, leastSigmas*t.sigma)
}

func figureOf(a, s term) *Figure {
	angle := math.Mod(math.Atan2(a.Y, a.X)*90/math.Pi+180, 180)
	return &Figure{r2.Norm(a.Vec), angle, a.sigma, s.X, s.sigma}
}

func (l *Line) note(code string, args ...any) {
	l.Notes = append(l.Notes, Note{Code: code, args: args})
}

// vanes adds the spider's vanes to a line.
func (l *Line) vanes(k Measured) {
	for _, v := range k.Figure.Vanes {
		l.Vanes = append(l.Vanes, Vane{v.Angle * 180 / math.Pi, v.Width * k.Ring.Radius})
	}
}

// Seeing is the air in a JSON line: Fried parameter, mm, and its one-sigma,
// long-exposure seeing, arcsec, and how many frames such as these it takes until
// the air leaves a tenth of the tolerance.
type Seeing struct {
	R0     float64 `json:"r0_mm"`
	Sigma  float64 `json:"sigma_mm"`
	FWHM   float64 `json:"fwhm_arcsec"`
	Shaken bool    `json:"shaken,omitempty"`
	Frames int     `json:"frames_needed"`
}

// airPart is the error by the air, of the tolerance, at which a mean is good (judgement).
const airPart = 0.1

// air adds to a line what frames in their order say of the air.
func (j *Job) air(l *Line, frames []Measured) {
	var figures []ring.Figure
	for _, k := range frames {
		figures = append(figures, k.Figure)
	}
	s, ok := ring.SeeingOf(j.Telescope, j.pixel(), rings(frames), figures)
	if !ok {
		return
	}
	l.Seeing = &Seeing{s.R0, s.Sigma, s.FWHM(), s.Shaken, s.Frames(j.allowed(), airPart)}
	if s.Shaken {
		l.note(NoteShaken)
	}
}

// allowed is the tolerance as an offset, px.
func (j *Job) allowed() float64 {
	return j.Telescope.Tolerance() * j.Telescope.OffsetPerField() / j.pixel()
}
