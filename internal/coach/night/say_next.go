package night

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
	"halocue/internal/optics"
)

// next returns the next cue once nothing is being said. It returns none while a
// hand is at work or more must be seen.
func (c *Coach) next() []cue.Cue {
	if c.t-c.first > nightLength {
		return c.finish(cue.GivenUp, "the night's patience is over")
	}
	if cue, busy := c.handBusy(); busy {
		c.proveT += c.dt // a look is long because of the air, not of a hand that is late
		return cue
	}
	c.disagree()
	if said := c.noted.waiting; said != nil {
		c.noted.waiting = nil
		return said
	}
	if !c.visible {
		return c.blind()
	}
	if c.clouded {
		c.clouded = false
		return []cue.Cue{{Code: cue.CodeCleared, Action: cue.Tell}}
	}
	if c.t-c.first < 1.3 || c.bank.Frames() < 5 {
		return nil
	}
	if cue := c.framing(); cue != nil {
		return cue
	}
	if h := &c.hand; h.Kind == hands.Locking && h.cue.Direction == cue.Snug && c.t-h.Since < 1 && c.locks.anyOpen() {
		return c.lock(c.locks.next(), cue.Snug) // while a hand is still at the last
	}
	if cue := c.resume(); cue != nil {
		return cue
	}
	if c.undoing {
		return c.putBack()
	}
	a, sd := c.bank.Axis()
	err := math.Max(sd.X, sd.Y)
	c.flop(a, err)
	a = r2.Add(a, c.locks.pulls())
	size := r2.Norm(a)
	trimTo := c.trimTo()
	switch {
	case c.bank.Proven(c.star) && !c.locks.anyOpen():
		return c.finish(cue.Aligned, fmt.Sprintf("bound %.2f tolerances", c.bank.UpperBound(c.star)/c.o.Tolerance))
	case err > math.Max(0.3*c.o.Tolerance, 0.25*size) && c.unsure():
		// One side alone cannot tell coma from the silhouette.
		if c.sideT > 0 && c.bank.SeenHere() < 8 && c.t-c.sideT < lookPatience {
			c.stage = "learn"
			return nil
		}
		return c.otherSide("the silhouette is not known yet")
	case size > trimTo && err > math.Max(0.3*c.o.Tolerance, 0.4*size) && c.bank.SeenHere() < 40:
		return nil
	case size > trimTo && err > math.Max(0.3*c.o.Tolerance, 0.4*size) && c.bank.SeenThere() < 10:
		return c.otherSide("this side alone tells no more")
	case size > trimTo && c.awaiting():
		return nil
	case size > trimTo:
		return c.trim(a)
	case c.locks.anyOpen():
		return c.lock(c.locks.next(), cue.Snug)
	}
	return c.prove(a)
}

// unsure reports whether the other side of focus would tell more than a longer look at
// this one: where the silhouette's place is not known.
func (c *Coach) unsure() bool {
	t := c.o.Telescope
	known := c.bank.SilhouetteSD() < 0.8*t.OffsetPerField()*t.FocalLength*c.o.Tolerance/(2*t.FocalRatio()*c.radius)*0.5
	return !known && c.bank.SeenBoth(4) < 0.5
}

// trimTo is the distance, mm, from which a proof is worth trying: one that takes
// no longer than a turn would, some ten seconds on each side. An offset that wanders is
// not followed with the knobs.
func (c *Coach) trimTo() float64 {
	left := c.o.Tolerance - c.bank.BoundAfter(10*c.s.FPS/c.bank.VarianceInflation())
	return math.Max(math.Min(math.Max(left, 0.35*c.o.Tolerance), 0.8*c.o.Tolerance), math.Max(1.5*c.bank.Wander(), 2*math.Sqrt(c.bank.SagVariance())))
}

// finish ends the night with a result.
func (c *Coach) finish(result, why string) []cue.Cue {
	a, _ := c.bank.Axis()
	if result != cue.GivenUp {
		c.proven = &a
	}
	waves := c.o.Telescope.ComaRMS(r2.Norm(a))
	return []cue.Cue{{Code: cue.CodeDone, Action: cue.Done, Result: result, Reason: why, Args: map[string]any{
		"waves": waves, "ratio": r2.Norm(a) / c.o.Tolerance, "strehl": optics.Strehl(waves),
		"bound": c.bank.UpperBound(c.star) / c.o.Tolerance,
	}}}
}
