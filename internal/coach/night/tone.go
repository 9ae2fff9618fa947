package night

import (
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// toneDoubt is the probability that the mirror is farther off than the tone says.
const toneDoubt = 0.25

// tone returns what is to be heard now.
func (c *Coach) tone() cue.Tone {
	switch {
	case c.done && !c.aligned, !c.visible, c.bank.Frames() < 3:
		return cue.Tone{}
	case c.done:
		break
	case c.hand.Phase == hands.Waiting && c.hand.told >= signalled:
		return cue.Tone{State: cue.ToneWait}
	case c.centring():
		half := float64(c.height) / 2 * c.o.Pixel
		return cue.Tone{State: cue.ToneCentre, Error: c.uncentred() / half}
	case c.hand.Kind == hands.Racking && c.hand.Phase == hands.Moving:
		return cue.Tone{}
	}
	_, sd := c.bank.Axis()
	tone := cue.Tone{State: cue.ToneTrim, Error: c.bank.Exceeded(toneDoubt) / c.o.Tolerance, Sigma: r2.Norm(sd) / c.o.Tolerance}
	switch {
	case c.hand.Stopped && c.hand.Phase == hands.Moving:
		tone.State = cue.ToneStop
	case c.bank.UpperBound(c.star) < c.o.Tolerance:
		tone.State = cue.ToneInside
	}
	return tone
}

// centring reports whether the star's way to its goal is what there is to be heard.
func (c *Coach) centring() bool {
	h := &c.hand
	if h.Kind == hands.Pushing {
		return h.Phase != hands.Settled || c.t-h.Since < centreTop
	}
	return h.Kind == hands.Idle && c.stage == "centre"
}
