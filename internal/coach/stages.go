package coach

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
)

// next returns the next cue once nothing is being said. It returns none while a
// hand is at work or more must be seen.
func (c *Coach) next() []Cue {
	if c.t-c.first > c.s.Patience.Night {
		return c.finish(GivenUp, "the night's patience is over")
	}
	if cue, busy := c.handBusy(); busy {
		return cue
	}
	if said := c.remark(); said != nil {
		return said
	}
	if !c.visible {
		return c.blind()
	}
	if c.clouded {
		c.clouded = false
		return []Cue{{Code: CodeCleared, Action: Tell}}
	}
	if c.t-c.first < 0.6 || c.belief.n < 5 {
		return nil
	}
	if cue := c.framing(); cue != nil {
		return cue
	}
	if c.hand.kind == locking && c.hand.phase != settled && c.hand.cue.Direction == Snug {
		return c.lockOn()
	}
	if c.undoing {
		return c.putBack()
	}
	a, sd := c.belief.axis()
	err := math.Max(sd.X, sd.Y)
	c.flop(a, err)
	a = r2.Add(a, c.locks.pulls())
	size := r2.Norm(a)
	trimTo := c.trimTo()
	switch {
	case c.belief.proven(c.star) && !c.locks.anyOpen():
		return c.finish(Aligned, fmt.Sprintf("bound %.2f tolerances", c.belief.worst(c.star)/c.o.tol))
	case err > math.Max(0.3*c.o.tol, 0.25*size) && c.unsure():
		// One side alone cannot tell coma from the silhouette.
		if c.sideT > 0 && c.belief.seenHere() < 8 && c.t-c.sideT < c.s.Patience.Look {
			c.stage = "learn"
			return nil
		}
		return c.otherSide("the silhouette is not known yet")
	case size > trimTo && err > math.Max(0.3*c.o.tol, 0.4*size) && c.belief.seenHere() < 40:
		return nil
	case size > trimTo && err > math.Max(0.3*c.o.tol, 0.4*size) && c.belief.seenThere() < 10:
		return c.otherSide("this side alone tells no more")
	case size > trimTo:
		return c.trim(a)
	case c.locks.anyOpen():
		return c.lock(c.locks.next(true), Snug)
	}
	return c.prove(a)
}

// unsure reports whether the other side of focus would tell more than a longer
// look at this one.
func (c *Coach) unsure() bool { return c.belief.seenBoth(4) < 0.5 && !c.both() }

// both reports whether the silhouette's place is known, from both sides or else.
func (c *Coach) both() bool {
	h := c.belief.best()
	return math.Sqrt(h.p.At(2, 2)) < 0.8*c.o.k*c.o.f*c.o.tol/(2*c.o.ratio*c.radius)*0.5
}

// trimTo is the distance, mm, from which a proof is worth trying: one that takes
// no longer than a turn would, some ten seconds on each side.
func (c *Coach) trimTo() float64 {
	left := c.o.tol - c.belief.within(10*c.s.FPS/c.belief.noise.inflation())
	return math.Min(math.Max(left, 0.35*c.o.tol), 0.8*c.o.tol)
}

// finish ends the night with a result.
func (c *Coach) finish(result, why string) []Cue {
	a, _ := c.belief.axis()
	if result != GivenUp {
		c.proven = &a
	}
	waves := c.o.t.ComaRMS(r2.Norm(a))
	code := map[string]string{Aligned: CodeAligned, AirLimit: CodeAir, GivenUp: CodeGivenUp}[result]
	return []Cue{{Code: code, Action: Done, Result: result, Reason: why, Args: map[string]any{
		"waves": waves, "ratio": r2.Norm(a) / c.o.tol, "strehl": optics.Strehl(waves),
		"bound": c.belief.worst(c.star) / c.o.tol,
	}}}
}
