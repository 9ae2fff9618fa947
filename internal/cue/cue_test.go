package cue

import "testing"

// A knob is found by its name, in the order of the settings; a name that no knob has is not
// the first one's.
func TestKnobsAreFoundByName(t *testing.T) {
	knobs := []Knob{{"upper", 12}, {"right-hand", 4}, {"left-hand", 8}}
	for i, k := range knobs {
		if got := KnobIndex(knobs, k.Name); got != i {
			t.Errorf("%s is number %d", k.Name, got)
		}
	}
	for _, name := range []string{"lower", ""} {
		if got := KnobIndex(knobs, name); got != -1 {
			t.Errorf("%q is number %d", name, got)
		}
	}
}
