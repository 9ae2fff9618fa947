package prompts

import (
	"strings"
	"testing"
)

// A star is pointed at by the nearest of eight points of the compass, from any azimuth, and by
// fists of ten degrees.
func TestStarIsPointedAt(t *testing.T) {
	p, err := New(Languages()[0], Normal)
	if err != nil {
		t.Fatal(err)
	}
	for azimuth, want := range map[float64]string{0: "north", 44: "north-east", 90: "east", 181: "south", 250: "west", 315: "north-west", 359: "north", -90: "west"} {
		text, _, err := p.Text(Cue{Code: "star", Action: "tell", Direction: "named", Args: map[string]any{"star": "Vega", "azimuth": azimuth, "altitude": 48.0}})
		if err != nil || !strings.HasPrefix(text, "Vega, in the "+want+", 5 fists") {
			t.Errorf("azimuth %g: %q, %v", azimuth, text, err)
		}
	}
}
