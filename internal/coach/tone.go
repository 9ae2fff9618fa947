package coach

import (
	"gonum.org/v1/gonum/spatial/r2"
)

// tone returns what is to be heard now.
func (c *Coach) tone() Tone {
	switch {
	case c.done, !c.visible, c.belief.n < 3:
		return Tone{}
	case c.hand.kind == pushing || c.stage == "centre":
		half := float64(c.height) / 2 * c.o.pixel
		return Tone{State: ToneCentre, Error: r2.Norm(r2.Sub(c.star, c.box().centre)) / half}
	case c.hand.kind == racking && c.hand.phase == moving:
		return Tone{}
	}
	a, sd := c.belief.axis()
	tone := Tone{State: ToneTrim, Error: r2.Norm(a) / c.o.tol, Sigma: r2.Norm(sd) / c.o.tol}
	switch {
	case c.hand.stopped && c.hand.phase == moving:
		tone.State = ToneStop
	case tone.Error < 1 && tone.Error+tone.Sigma < 1:
		tone.State = ToneInside
	}
	return tone
}
