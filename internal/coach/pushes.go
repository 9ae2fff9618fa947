package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

func (c *Coach) followPush() []Cue {
	h := &c.hand
	size := r2.Norm(c.travelled())
	switch h.phase {
	case waiting:
		if size > math.Max(0.05, 6*c.track.jit) && c.track.moving() {
			c.enter(moving)
		}
	case moving:
		off := r2.Norm(r2.Sub(c.star, c.box().centre))
		if c.slowed() || off < 0.2*c.box().half.Y {
			c.enter(settled)
		}
	}
	return nil
}
