package night

import (
	"encoding/json"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/cue"
)

// What an earlier night left is a file like any other: whatever it says, the coach
// turns no knob by nothing or too much, and claims nothing from noise.
func FuzzRecall(f *testing.F) {
	f.Add(`{"Mirrored":1,"Rotation":2,"RotationSD":0.1,"PerTurn":[3,3,3],"PerTurnSD":[0.1,0.1,0.1],"Reaction":0.7}`)
	f.Add(`{"Mirrored":1e300,"Rotation":1e300,"RotationSD":-1e300,"PerTurn":[1e-300,1e300,-1],"PerTurnSD":[1e300,-1,0],"Reaction":1e300,"Axis":{"X":1e300,"Y":0}}`)
	f.Fuzz(func(t *testing.T, text string) {
		var m coach.Memory
		if json.Unmarshal([]byte(text), &m) != nil {
			return
		}
		p := newScript(t, Settings{Memory: &m})
		for i := range 40 {
			s := ringAt(640+10*float64(i%7), 480, 100)
			s.Offset = r2.Vec{X: float64(i % 5), Y: float64(i % 3)}
			p.show(0.5, s)
		}
		for _, c := range p.said {
			if c.Action == cue.Turn && !(c.Turns > 0 && c.Turns < 3) {
				t.Errorf("turn by %g after %+v", c.Turns, m)
			}
		}
	})
}
