package coach

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// Knob is one of the three adjusters of the primary.
type Knob struct {
	Name  string
	Clock float64 // place as seen from behind the mirror, hours, 12 at the top
}

// Settings is what the coach must know beforehand. Only the telescope's aperture
// and focal length are indispensable; the zero of everything else has a default.
type Settings struct {
	Telescope    optics.Telescope
	PixelMM      float64 // size of a frame pixel, mm; 0 is unknown
	Target       *r2.Vec // where the axis point should be, px; nil is the frame's centre
	Knobs        []Knob  // three; none is top, right-hand and left-hand at 12, 4 and 8
	PitchMM      float64 // of the thread, mm a turn; 0 is 0.8
	BoltRadiusMM float64 // 0 is 0.42 of the aperture
	Kind         string  // spring, push-pull or screws; "" is spring
	Locks        bool
	Corrector    bool    // refused: a corrector hides the coma that is measured
	Goal         float64 // in tolerances, 0 < Goal <= 1; 0 is 1
	ReactionS    float64 // from the end of the words to the move, seconds; 0 is 0.6
	EarDelayS    float64 // from the sound's making to the ear, seconds
	FPS          float64 // frames a second; 0 is 10
	Patience     Patience
	Memory       *Memory // what an earlier night taught, or nil
}

// Patience is how long the coach waits, seconds, before it goes on without what
// it asked for. A zero is the default.
type Patience struct {
	Move  float64 // for the first movement after a cue: 4
	Rack  float64 // for the ring to come back after racking: 12
	Find  float64 // for a ring to appear before it is asked for again: 6
	Look  float64 // for one side, before the air is blamed: 45
	Night float64 // for everything: 1200
}

// The assumed pixel where none is given, mm: small for a camera that is used for
// this, so that the tolerance, which it scales, errs on the strict side.
const assumedPixel = 0.0065

// filled returns s with its defaults, or what is wrong with it.
func (s Settings) filled() (Settings, error) {
	t := s.Telescope
	switch {
	case s.Corrector:
		return s, errors.New("a corrector lens hides the very coma that is measured; take it out first and set corrector = false")
	case !(t.Aperture > 0) || math.IsInf(t.Aperture, 0):
		return s, fmt.Errorf("aperture %v mm: give the mirror's diameter", t.Aperture)
	case !(t.FocalLength > 0) || math.IsInf(t.FocalLength, 0):
		return s, fmt.Errorf("focal length %v mm: give the telescope's focal length", t.FocalLength)
	case s.PixelMM < 0 || math.IsNaN(s.PixelMM):
		return s, fmt.Errorf("pixel size %v mm: give it above 0, or leave it out", s.PixelMM)
	case len(s.Knobs) != 0 && len(s.Knobs) != 3:
		return s, fmt.Errorf("%d knobs: name three, or none for the usual ones", len(s.Knobs))
	case s.Goal < 0 || s.Goal > 1 || math.IsNaN(s.Goal):
		return s, fmt.Errorf("goal %v tolerances: give more than 0 and at most 1", s.Goal)
	}
	def := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	def(&s.PitchMM, 0.8)
	def(&s.BoltRadiusMM, 0.42*t.Aperture)
	def(&s.Goal, 1)
	def(&s.ReactionS, 0.6)
	def(&s.FPS, 10)
	def(&s.Patience.Move, 4)
	def(&s.Patience.Rack, 12)
	def(&s.Patience.Find, 6)
	def(&s.Patience.Look, 45)
	def(&s.Patience.Night, 1200)
	if s.Kind == "" {
		s.Kind = "spring"
	}
	if len(s.Knobs) == 0 {
		s.Knobs = UsualKnobs()
	}
	return s, nil
}

// UsualKnobs are where most mirror cells have them.
func UsualKnobs() []Knob { return []Knob{{"upper", 12}, {"right-hand", 4}, {"left-hand", 8}} }

// optic is the telescope in the numbers that the estimator needs.
type optic struct {
	pixel float64 // mm
	f     float64 // focal length, mm
	ratio float64 // focal ratio
	k     float64 // offset per field, K
	m     float64 // silhouette walk: secondary distance over focal length
	tol   float64 // the tolerance of |axis|, mm
	gain  float64 // star's move per turn as the thread has it, mm
	t     optics.Telescope
}

func newOptic(s Settings) optic {
	t := s.Telescope
	o := optic{
		pixel: s.PixelMM, f: t.FocalLength, ratio: t.FocalRatio(), k: t.OffsetPerField(),
		m: t.SecondaryAt() / t.FocalLength, tol: t.Tolerance() * s.Goal, t: t,
	}
	if o.pixel == 0 {
		o.pixel = assumedPixel
		o.tol *= 0.5
	}
	o.gain = 2 * t.FocalLength * optics.KnobTilt(1, s.PitchMM, s.BoltRadiusMM)
	return o
}

// airOffset returns the RMS of the shadow's offset, mm per axis, that air of
// Fried parameter r0 gives a single short exposure.
func (o optic) airOffset(r0 float64) float64 {
	return o.k * o.t.AirComa(r0) / o.t.ComaRMS(1)
}

// fried returns the Fried parameter, mm, of air that leans the shadow by sd mm:
// airOffset the other way round.
func (o optic) fried(sd float64) float64 {
	if sd <= 0 {
		return 0
	}
	return 100 * math.Pow(o.airOffset(100)/sd, 6.0/5)
}
