package night

import (
	"math"
	"testing"

	"halocue/internal/cue"
)

// How long a look is still to be is said in steps of five seconds, where the air
// tells it; else only that it is one.
func TestLongLookTellsHowLong(t *testing.T) {
	for more, want := range map[float64]any{0.1: 5.0, 12: 15.0, 58: 60.0, 61: nil, 0: nil, math.Inf(1): nil} {
		c := &Coach{view: view{t: 100}}
		cues := c.lookLong(more)
		if len(cues) != 1 || cues[0].Code != cue.CodeLongLook || cues[0].Args["seconds"] != want {
			t.Errorf("%g seconds: %+v, want %v", more, cues, want)
		}
		if cues := c.lookLong(more); cues != nil {
			t.Errorf("said twice: %v", cues)
		}
	}
}
