package cue

// Knob is one of the three adjusters of the primary.
type Knob struct {
	Name  string
	Clock float64 // place as seen from behind the mirror, hours, 12 at the top
}

// UsualKnobs are where most mirror cells have them.
func UsualKnobs() []Knob { return []Knob{{"upper", 12}, {"right-hand", 4}, {"left-hand", 8}} }
