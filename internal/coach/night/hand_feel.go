package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/hands"
)

// feel gives the star's way since the last frame, beyond drift, to whoever moved
// it: a knob moves the axis point by half of it, a push of the tube not at all.
func (c *Coach) feel(d r2.Vec) {
	h := &c.hand
	h.turned = r2.Add(h.turned, d)
	size := r2.Norm(d)
	going := c.track.Moving()
	switch h.Kind {
	case hands.Turning, hands.Locking:
		if h.Phase == hands.Settled && c.t-h.Since > 1 && going && size > 4*c.track.Jitter {
			if !c.goesOn() {
				c.surprise(d, 0.25, 0.3) // a late turn, or a knock
				return
			}
			c.goOn()
		}
		c.bank.Shift(r2.Scale(0.5, d), 0)
		// Three per cent, and what the drift may have done meanwhile.
		v := 0.03*0.5*r2.Norm(h.turned) + 0.002
		if v*v > h.counted {
			c.bank.Shift(r2.Vec{}, math.Sqrt(v*v-h.counted))
			h.counted = v * v
		}
		c.moved(r2.Scale(0.5, d))
	case hands.Pushing, hands.Racking:
		// The silhouette walks with the tube: 5 % for the secondary's distance,
		// 2 % for the offset's scale.
		v := r2.Norm(h.turned)
		if v*v > h.counted {
			grow := math.Sqrt(v*v - h.counted)
			c.bank.InflateSilhouette(0.05 * grow)
			c.bank.Shift(r2.Vec{}, 0.01*grow)
			h.counted = v * v
		}
		if going && size > 2*c.track.Jitter {
			c.doubt(d)
		}
		if h.Phase == hands.Settled && c.t-h.Since > 1.5 && going && size > 6*c.track.Jitter {
			if c.goesOn() {
				c.goOn()
				return
			}
			c.surprise(d, 0, 0.15)
		}
	default:
		if going && size > 6*c.track.Jitter {
			c.surprise(d, 0.1, 0.25)
		}
	}
}

// surprise takes in a jump that was not asked for: of the tube, or of the mirror.
func (c *Coach) surprise(d r2.Vec, share, sd float64) {
	c.knock(d)
	c.bank.Shift(r2.Scale(share, d), sd*r2.Norm(d))
	c.moved(r2.Scale(math.Max(share, sd), d))
}

// moved adds to the way of the axis point since the sides were last seen; a real
// move makes them old.
func (c *Coach) moved(d r2.Vec) {
	c.shifted = r2.Add(c.shifted, d)
	if r2.Norm(c.shifted) > math.Max(0.05*c.o.Tolerance, 4*c.track.Jitter) {
		c.shifted = r2.Vec{}
		c.bank.MirrorMoved()
		c.proveT, c.doubts = c.t, 0
	}
}

// doubt allows for the mirror having moved where the tube is said to be pushed: a
// turn that was asked for before may be made late, or the next one early. The axis
// point would go by half of the star's way.
func (c *Coach) doubt(d r2.Vec) {
	const along, share = 0.8, 0.4 // cosine; one-sigma of the share of the star's way
	var knobs []int
	if c.pastOpen() {
		knobs = append(knobs, c.past.Knob)
	}
	if c.pending.on && c.pending.cue.Action == cue.Turn {
		knobs = append(knobs, c.knobIndex(c.pending.cue.Knob))
	}
	size := r2.Norm(d)
	fits := false
	for _, k := range knobs {
		modes := c.knobs.Orientations()
		fits = fits || modes == nil
		for _, m := range modes {
			fits = fits || math.Abs(r2.Dot(m.Direction[k], d)) > along*size
		}
	}
	if !fits {
		return
	}
	h := &c.hand
	was := h.doubtful
	h.doubtful += size
	c.bank.Shift(r2.Vec{}, share*math.Sqrt(h.doubtful*h.doubtful-was*was))
	c.moved(r2.Scale(share, d))
}

// goesOn reports whether a hand that seemed done goes on: it had let go, and has
// taken hold again, or it had been given up, and begins.
func (c *Coach) goesOn() bool {
	const along = 0.85 // cosine
	h := &c.hand
	v, _ := c.track.Velocity()
	size := r2.Norm(v)
	switch h.Kind {
	case hands.Turning:
		if !h.begun {
			return true
		}
		n := r2.Norm(h.turned)
		return n > 0.1 && math.Abs(r2.Dot(h.turned, v)) > along*n*size
	case hands.Pushing:
		way := r2.Sub(c.goal(), c.star)
		return !h.begun || r2.Dot(v, way) > along*size*r2.Norm(way)
	}
	return false
}

// goOn has the hand at work again.
func (c *Coach) goOn() {
	h := &c.hand
	c.began()
	h.peak, h.slow = 0, 0
	c.hand.Enter(hands.Moving, c.t)
}

// feelFor notes when a hand was last felt on the tube: the star shakes more than
// it does by itself.
func (c *Coach) feelFor() {
	const shaken, still, frames = 9, 3, 5 // times the usual energy, for several frames
	h := &c.hand
	if h.Kind != hands.Turning || h.Phase != hands.Waiting {
		return
	}
	switch {
	case c.track.Shaken < still:
		h.trembled, h.calmed = 0, true
	case c.track.Shaken > shaken && h.calmed:
		if h.trembled++; h.trembled >= frames {
			h.felt = c.t
		}
	}
}

// notYet takes back that the hand has begun.
func (c *Coach) notYet() {
	h := &c.hand
	if all := c.reactions[c.asked()]; h.learned && len(all) > 0 {
		c.reactions[c.asked()] = all[:len(all)-1]
	}
	h.learned = false
	c.hand.Enter(hands.Waiting, c.t)
	h.begun, h.early, h.peak, h.slow, h.from, h.start = false, false, 0, 0, c.track.Now(), c.t
}
