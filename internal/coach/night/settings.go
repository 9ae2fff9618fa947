package night

import (
	"cmp"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/estimate"
	"halocue/internal/optics"
)

// Settings is what the coach must know beforehand; the zero of what stands here has a default.
type Settings struct {
	coach.Settings
	PixelMM     float64       // size of a frame pixel, mm; 0 is unknown
	PixelUnsure float64       // the pixel may be up to so many times larger, as long as the star has not shown it; 0 is 1, or 4 where the size is unknown
	Target      *r2.Vec       // where the axis point should be, px; nil is the frame's centre
	Kind        string        // spring, push-pull or screws; "" is spring
	Corrector   bool          // refused: a corrector hides the coma that is measured
	FPS         float64       // frames a second; 0 is 10
	WalkS       float64       // what a walk from the focuser to the knobs takes, s; 0 is not known
	Pace        string        // learned, slow, steady or quick: how long a hand may take to begin; "" is learned
	Memory      *coach.Memory // what an earlier night taught, or nil
}

// How long the coach waits, seconds, before it goes on without what it asked for:
// judgement.
const (
	firstMove    = 15   // for the first movement of a person who is not known yet
	rackPatience = 12   // for a racking to end
	findPatience = 6    // for a ring to appear before it is asked for again
	lookPatience = 45   // for a look at one side, before it ends "as the air allows"
	nightLength  = 1200 // for everything
)

// guessedPixel is how many times larger than the usual one an unknown pixel may be: 15 um,
// or small pixels that the driver joins by fours.
const guessedPixel = 4

// filled returns s with its defaults, or what is wrong with it.
func (s Settings) filled() (Settings, error) {
	switch {
	case s.Corrector:
		return s, errors.New("a corrector lens hides the very coma that is measured; take it out first and set corrector = false")
	case s.PixelMM < 0 || math.IsNaN(s.PixelMM):
		return s, fmt.Errorf("pixel size %v mm: give it above 0, or leave it out", s.PixelMM)
	case s.Pace != "" && s.Pace != "learned" && fixedPaces[s.Pace] == 0:
		return s, fmt.Errorf("pace %q: choose learned, slow, steady or quick", s.Pace)
	}
	if s.PixelMM == 0 {
		s.PixelUnsure = cmp.Or(s.PixelUnsure, guessedPixel)
	}
	s.FPS, s.Kind = cmp.Or(s.FPS, 10), cmp.Or(s.Kind, "spring")
	return s, s.Fill()
}

// optic returns the telescope and the camera in the numbers that the estimator needs. A
// pixel that may be larger narrows the tolerance by as much.
func (s Settings) optic() estimate.Instrument {
	t := s.Telescope
	return estimate.Instrument{
		Telescope: t, Pixel: cmp.Or(s.PixelMM, optics.UsualPixelMM), Tolerance: t.Tolerance() / math.Max(s.PixelUnsure, 1),
		StarPerTurn: 2 * t.FocalLength * optics.KnobTilt(1, s.PitchMM, s.BoltRadiusMM),
	}
}
