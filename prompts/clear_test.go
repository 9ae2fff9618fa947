package prompts

import "testing"

func TestClearLeavesTheLastWordOnly(t *testing.T) {
	e := newEar(t)
	e.add(0, turn("left"))
	e.set(0, "camera-stalled", true)
	e.step(0.1)
	e.n.Clear()
	e.until = -1
	e.heard = nil
	e.add(1, Cue{Code: "ending"})
	e.run(1, 60)
	e.check("1.0 " + mustText(t, "ending"))
}
