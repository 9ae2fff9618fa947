package night

import "math"

// screws is how far each knob has been turned since the start, > 0 tightened,
// and what the kind of cell allows. How far they were turned before is not
// known, so the limits are those of a screw found in its middle. Common practice,
// no source.
type screws struct {
	turns [3]float64
	kind  string
}

// reach returns how far a screw may be loosened and tightened, turns, and what
// each turn of loosening costs besides.
func (s screws) reach() (loose, tight, dislike float64) {
	switch s.kind {
	case "push-pull": // it holds either way
		return 2.5, 2.5, 0
	case "screws": // the clamp follows, but not far
		return 2, 2.5, 0.3
	}
	return 2, 3, 0.4 // springs: a loose spring lets the mirror slide
}

// cost returns what it costs, in turn cues, to turn knob k by so many turns.
func (s screws) cost(k int, turns float64) float64 {
	loose, tight, dislike := s.reach()
	after := s.turns[k] + turns
	if after < -loose && turns < 0 || after > tight && turns > 0 {
		return 20 // never toward letting the mirror loose, nor binding it
	}
	return dislike * (math.Max(-after, 0) - math.Max(-s.turns[k], 0))
}

// spent reports whether knob k has come near the end of what it may go.
func (s screws) spent(k int) bool {
	loose, tight, _ := s.reach()
	return s.turns[k] < 0.1-loose || s.turns[k] > tight-0.1
}
