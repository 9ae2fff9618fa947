package coach

import (
	"cmp"
	"fmt"
	"math"

	"halocue/internal/cue"
	"halocue/internal/optics"
)

// Settings is what both coaches must know beforehand. Only the telescope's aperture and
// focal length are indispensable; the zero of everything else has a default.
type Settings struct {
	Telescope    optics.Telescope
	Knobs        []cue.Knob // the main mirror's three; none is upper, right-hand and left-hand at 12, 4 and 8
	PitchMM      float64    // of their thread, mm a turn; 0 is 0.8
	BoltRadiusMM float64    // of their circle; 0 is 0.42 of the aperture
	Locks        bool       // the knobs have locks
	EarDelayS    float64    // from the sound's making to the ear, seconds
}

// Fill gives s its defaults, or tells what is wrong with it.
func (s *Settings) Fill() error {
	t := s.Telescope
	switch {
	case !(t.Aperture > 0) || math.IsInf(t.Aperture, 0):
		return fmt.Errorf("aperture %v mm: give the mirror's diameter", t.Aperture)
	case !(t.FocalLength > 0) || math.IsInf(t.FocalLength, 0):
		return fmt.Errorf("focal length %v mm: give the telescope's focal length", t.FocalLength)
	case len(s.Knobs) == 0:
		s.Knobs = cue.UsualKnobs()
	case len(s.Knobs) != 3:
		return fmt.Errorf("%d knobs: name three, or none for the usual ones", len(s.Knobs))
	}
	s.PitchMM, s.BoltRadiusMM = cmp.Or(s.PitchMM, 0.8), cmp.Or(s.BoltRadiusMM, 0.42*t.Aperture)
	return nil
}
