package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/estimate"
	"halocue/internal/hands"
)

// interrupt says what cannot wait for the end of what the hand does.
func (c *Coach) interrupt() []cue.Cue {
	switch h := &c.hand; h.Kind {
	case hands.Turning:
		return c.interruptTurn()
	case hands.Pushing:
		h.Corrected = true
		return []cue.Cue{{Code: cue.CodeRecentreOther, Action: cue.Recentre, Goal: h.cue.Goal, Reason: "the star goes away from the middle"}}
	}
	return c.stop("the ring will be large enough when the word is heeded")
}

// interruptTurn stops a turn that goes wrong, or far enough.
func (c *Coach) interruptTurn() []cue.Cue {
	h := &c.hand
	d := c.travelled()
	size := r2.Norm(d)
	v, _ := c.track.Velocity()
	ahead := c.coming(size, v)
	edge := c.inset(0.35) // where the star must stay
	at := r2.Add(c.star, ahead)
	wrong, bad := c.wrongHand(d)
	switch {
	case c.bothHands(d):
		h.Stopped, h.Corrected = true, true
		return []cue.Cue{{Code: cue.CodeBothHand, Action: cue.Wait, Reason: "the star goes between two knobs' ways"}}
	case bad:
		h.Stopped, h.Corrected = true, true
		return []cue.Cue{wrong}
	case !edge.holds(at) && r2.Dot(r2.Sub(at, edge.centre), v) > 0:
		return c.stop("the star is about to leave the frame")
	case !h.blind && size+r2.Norm(ahead) > 1.1*h.goal && size > 0.3*h.goal && r2.Norm(v) > 0.1 && (c.undoing || c.overshoots(v, ahead)):
		return c.stop("the axis point is where this turn should bring it")
	}
	return nil
}

// stop tells the hand to stop.
func (c *Coach) stop(why string) []cue.Cue {
	c.hand.Stopped = true
	return []cue.Cue{{Code: cue.CodeStop, Action: cue.Stop, Reason: why}}
}

// coming returns how far the star will still go before a stop said now is
// heeded: on at its speed for the word, the ear and the reaction, but no farther
// than a rough hand takes what was asked.
func (c *Coach) coming(gone float64, v r2.Vec) r2.Vec {
	speed := r2.Norm(v)
	if speed == 0 {
		return r2.Vec{}
	}
	way := speed * (hands.StopWord + c.reaction + c.s.EarDelayS)
	most := 1.25 * c.hand.goal * math.Exp(0.5*c.knobs.PerTurnSD(c.hand.Knob))
	return r2.Scale(math.Min(way, math.Max(most-gone, 0.3*speed))/speed, v)
}

// overshoots reports whether the axis point would be well past its best place on
// this line once the star has gone on by ahead.
func (c *Coach) overshoots(v, ahead r2.Vec) bool {
	a, _ := c.bank.Axis()
	a = r2.Add(a, c.locks.pulls())
	return r2.Dot(r2.Add(a, r2.Scale(0.5, ahead)), r2.Unit(v)) > 0.2*c.o.Tolerance
}

// wrongHand tells a wrong knob or a wrong way by the star's direction, once what
// was asked for has become improbable.
func (c *Coach) wrongHand(d r2.Vec) (cue.Cue, bool) {
	const improbable, sure = 0.05, 0.8
	h := &c.hand
	if r2.Norm(d) < math.Max(0.12, 10*c.track.Jitter) || c.knobs.Orientations() == nil || h.Corrected {
		return cue.Cue{}, false
	}
	did := c.knobs.Posterior(estimate.Turn{Knob: h.Knob, Sign: h.sign, Jump: d, Jitter: c.track.Jitter})
	asked := estimate.SignIndex(h.sign)
	switch {
	case did[h.Knob][asked] > improbable:
		return cue.Cue{}, false
	case did[h.Knob][1-asked] > sure:
		return cue.Cue{Code: cue.CodeWrongWay, Action: cue.Stop, Knob: h.cue.Knob, Reason: "the star goes the opposite way"}, true
	}
	cue := cue.Cue{Code: cue.CodeWrongKnob, Action: cue.Stop, Reason: "the star does not go as with the knob that was named"}
	for k := range did {
		if k != h.Knob && did[k][0]+did[k][1] > sure {
			name := c.s.Knobs[k].Name
			cue.Args, cue.Reason = map[string]any{"moved": name}, "the star goes as with the knob "+name
		}
	}
	return cue, true
}

// bothHands reports whether the star goes a way that no single knob moves it,
// and far enough to be sure.
func (c *Coach) bothHands(d r2.Vec) bool {
	if r2.Norm(d) < math.Max(0.3, 20*c.track.Jitter) || !c.knobs.Certain() || c.hand.Corrected {
		return false
	}
	near := math.Inf(1)
	for _, o := range c.knobs.Orientations() {
		for k := range o.Direction {
			cos := math.Abs(r2.Dot(o.Direction[k], d)) / r2.Norm(d)
			near = math.Min(near, math.Acos(math.Min(cos, 1)))
		}
	}
	return near > 22*math.Pi/180
}

// remarkWrongHand remarks a wrong turn that is over already.
func (c *Coach) remarkWrongHand(d r2.Vec) {
	if say, bad := c.wrongHand(d); bad {
		say.Action = cue.Warn
		c.noted.add(say)
	}
}
