package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// turnBack asks for a knob to be turned back that has just taken the star out of sight:
// the person knows which one that is and which way it went, better than the star tells,
// and no push of the tube would find it. It returns
// none where no knob has, or where that was asked for already.
func (c *Coach) turnBack(why string) []cue.Cue {
	const just = 3 // seconds
	h := &c.hand
	if h.kind != turning || !h.begun || h.back || h.cue.Turns <= 0 || math.Abs(h.since-c.lastFound) > just {
		return nil
	}
	c.aim = math.Max(r2.Norm(r2.Sub(c.box().centre, c.star)), 0.3)
	say := cue.Cue{Code: cue.CodeLostByKnob, Action: cue.Turn, Knob: h.cue.Knob, Direction: cue.Loosen, Turns: h.cue.Turns,
		Reason: why + "; a knob was being turned"}
	if h.sign < 0 {
		say.Direction = cue.Tighten
	}
	c.lastTurn.knob, c.lastTurn.sign = h.knob, -h.sign
	return []cue.Cue{say}
}

// fetched follows a knob that is turned back out of sight, until the star is seen: the
// mirror has then moved by half of what the star has, whatever was thought when it was
// lost. It reports whether the star rests there.
func (c *Coach) fetched() (rests bool) {
	h := &c.hand
	if !h.inSight {
		h.inSight = true
		c.bank.Shift(r2.Scale(-1, h.strayed), 0.15*r2.Norm(h.strayed))
	}
	return c.rested() > restFor
}
