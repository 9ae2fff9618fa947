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
	if !c.visible {
		return c.blind()
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
	a, sd := c.belief.axis()
	a = r2.Add(a, c.locks.pulls())
	err := math.Max(sd.X, sd.Y)
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
	return c.prove(size)
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

// handBusy reports whether a hand is at work or about to be; if it takes too
// long it is asked again.
func (c *Coach) handBusy() ([]Cue, bool) {
	h := &c.hand
	if h.kind == idle || h.phase == settled {
		return nil, false
	}
	late := c.t - h.out
	if !c.visible && (h.kind == locking || h.kind == turning && h.phase == moving) && c.t-c.lastFound > 1.2 {
		c.lostSight()
		c.enter(settled)
		return nil, false
	}
	switch h.kind {
	case turning:
		if h.phase == waiting && late > c.s.Patience.Move && c.visible {
			c.enter(settled)
			if c.repeats++; c.repeats > 2 {
				c.repeats = 0
				return nil, false
			}
			cue := h.cue
			cue.Code, cue.Reason = CodeTurnAgain, "nothing has moved since the cue"
			cue.Turns = math.Max(1.3*cue.Turns, 0.05)
			return []Cue{cue}, true
		}
	case pushing:
		if h.phase == waiting && late > c.s.Patience.Move && c.visible {
			c.enter(settled)
			return nil, false
		}
		if late > 12 {
			c.enter(settled)
			return nil, false
		}
	case racking:
		stuck := !c.visible && c.why == "clipped" && c.t-c.lastFound > 4
		if late > c.s.Patience.Rack || stuck {
			if h.phase == moving {
				c.racked()
			}
			c.enter(settled)
			return nil, false
		}
	case locking:
		return nil, late < 1.3 // the next lock may be named while a hand is at this one
	}
	if h.kind == turning && late > 15 {
		c.enter(settled)
		return nil, false
	}
	return nil, true
}

// framing keeps star and ring where they can be measured.
func (c *Coach) framing() []Cue {
	small := math.Max(math.Min(0.45*c.o.t.RingRadius(c.o.t.BestDefocus()), 0.07*float64(c.height)*c.o.pixel), 0.03*float64(c.height)*c.o.pixel)
	large := 0.36 * float64(c.height) * c.o.pixel
	switch {
	case c.radius < small:
		c.stage = "defocus"
		return []Cue{{Code: CodeDefocusMore, Action: Defocus, Direction: More,
			Reason: fmt.Sprintf("ring of %.0f px is too small", c.radius/c.o.pixel)}}
	case c.radius > large:
		c.stage = "defocus"
		return []Cue{{Code: CodeDefocusLess, Action: Defocus, Direction: Less,
			Reason: fmt.Sprintf("ring of %.0f px is too large for the frame", c.radius/c.o.pixel)}}
	}
	if b := c.box(); !b.holds(c.star) || !b.holds(r2.Add(c.star, r2.Scale(6, c.track.drift))) {
		if c.pushedJustNow() && b.holds(c.star) {
			return nil
		}
		return c.recentre("the star is at the frame's edge, or will be soon")
	}
	return nil
}

// pushedJustNow guards against asking twice for what cannot be had.
func (c *Coach) pushedJustNow() bool { return c.hand.kind == pushing && c.hand.phase == settled }

func (c *Coach) recentre(why string) []Cue {
	return []Cue{{Code: CodeRecentre, Action: Recentre, Reason: why}}
}

func (c *Coach) otherSide(why string) []Cue {
	c.stage = "other-side"
	b := c.inset(1.05)
	if !b.holds(c.star) && !c.pushedJustNow() {
		return c.recentre("before racking the star should be well in the frame")
	}
	code := CodeOtherSide
	if c.hand.kind == racking && c.hand.cue.Action == OtherSide {
		code = CodeOtherAgain
	}
	return []Cue{{Code: code, Action: OtherSide, Reason: why}}
}

// lockOn names the next lock in a row while a hand is still at the last.
func (c *Coach) lockOn() []Cue {
	if c.hand.cue.Direction == Snug && c.locks.anyOpen() {
		return c.lock(c.locks.next(true), Snug)
	}
	return nil
}

// trim asks for the turn that brings the axis point home soonest.
func (c *Coach) trim(a r2.Vec) []Cue {
	c.stage = "trim"
	need := r2.Scale(-1, a)
	box := c.box()
	var extra [3]float64
	for k, open := range c.locks.open {
		if c.s.Locks && !open {
			extra[k] = lockCost
		}
	}
	m := c.knobs.plan(task{need, c.star, box, c.trimTo(), extra})
	if extra[m.knob] > 0 {
		return c.lock(m.knob, Release)
	}
	travel := 2 * m.axis
	if modes := c.knobs.modes(); modes != nil {
		room := math.Inf(1)
		full := math.Inf(1)
		for _, o := range modes {
			if o.p < 0.05 && len(modes) > 1 && o.p < 0.5/float64(len(modes)) {
				continue
			}
			u := r2.Scale(m.way, o.dir[m.knob])
			room = math.Min(room, box.room(c.star, u))
			full = math.Min(full, box.room(box.centre, u))
		}
		if room < travel && room < 0.45*full && !c.pushedJustNow() {
			return c.recentre("no room to turn that way")
		}
		travel = math.Min(travel, math.Max(reachOut*room, 0.1))
	} else {
		c.stage = "learn"
		d := r2.Sub(c.star, box.centre)
		if room := math.Min(box.half.X-math.Abs(d.X), box.half.Y-math.Abs(d.Y)); room < learnRoom*travel && !c.pushedJustNow() {
			return c.recentre("room is needed to learn what a knob does")
		}
	}
	turns := travel/c.knobs.perTurn(m.knob) + c.knobs.lost(m.knob, m.way)
	turns = math.Min(math.Max(turns, 0.01), 1)
	c.aim = travel
	cue := Cue{
		Code: CodeTurn, Action: Turn, Knob: c.s.Knobs[m.knob].Name, Direction: Tighten, Turns: turns,
		Reason: fmt.Sprintf("axis point %.2f mm off, %.2f tolerances; the star should go %.2f mm", r2.Norm(a), r2.Norm(a)/c.o.tol, travel),
	}
	if m.way < 0 {
		cue.Direction = Loosen
	}
	if c.lastTurn.way != 0 && c.lastTurn.knob == m.knob {
		cue.Code = CodeTurnMore
		if c.lastTurn.way != m.way {
			cue.Code = CodeTurnBack
		}
	}
	c.lastTurn.knob, c.lastTurn.way = m.knob, m.way
	return []Cue{cue}
}

// prove looks at this side, then at the other, until the claim stands.
func (c *Coach) prove(size float64) []Cue {
	c.stage = "prove"
	here, there := c.belief.seenHere(), c.belief.seenThere()
	h := c.belief.best()
	long := c.t-c.sideT > c.s.Patience.Look
	if there < leastLooks {
		bound := size + c.belief.within(here) + c.belief.model(h, c.star)
		soon := c.belief.within(here + 2*c.s.FPS/c.belief.noise.inflation())
		_, sd := c.belief.axis()
		sure := math.Max(sd.X, sd.Y) < 0.2*c.o.tol && size+soon < 0.9*c.o.tol
		if here >= 10 && bound < 0.97*c.o.tol || here >= proveHere && sure || long {
			return c.otherSide("this side agrees; now the other for proof")
		}
		return nil
	}
	if here < leastLooks {
		return nil
	}
	if long {
		if c.belief.within(there) > c.belief.within(here) && there < 0.5*here {
			return c.otherSide("the other side needs a longer look")
		}
		return c.finish(AirLimit, fmt.Sprintf("bound %.2f tolerances after a long look", c.belief.worst(c.star)/c.o.tol))
	}
	return nil
}

// blind says what to do when there is no ring to be measured.
func (c *Coach) blind() []Cue {
	gone := c.t - c.lastFound
	patience := 2.5
	if c.hand.kind == turning {
		patience = 1.2
	}
	if gone < patience || c.t-c.trouble < 6 {
		return nil
	}
	c.stage = "find"
	c.trouble = c.t
	why := "no ring: " + c.why
	switch c.why {
	case "too-bright":
		return []Cue{{Code: CodeSun, Action: Warn, Reason: why}}
	case "focused":
		return []Cue{{Code: CodeFocused, Action: Defocus, Direction: More, Reason: why}}
	case "no-shadow":
		return []Cue{{Code: CodeDefocusMore, Action: Defocus, Direction: More, Reason: why}}
	case "cut-off":
		return []Cue{{Code: CodeRecentre, Action: Recentre, Reason: why}}
	case "clipped":
		return []Cue{{Code: CodeOverlit, Action: Defocus, Direction: More, Reason: why}}
	case "faint":
		return []Cue{{Code: CodeFaint, Action: Warn, Reason: why}}
	case "blurred":
		return []Cue{{Code: CodeBlurred, Action: Warn, Reason: why}}
	case "two-stars":
		return []Cue{{Code: CodeTwoStars, Action: Warn, Reason: why}}
	}
	if c.belief.n > 0 {
		return []Cue{{Code: CodeStarLost, Action: Recentre, Reason: why}}
	}
	return []Cue{{Code: CodeFindStar, Action: Recentre, Reason: why}}
}

// finish ends the night with a result.
func (c *Coach) finish(result, why string) []Cue {
	a, _ := c.belief.axis()
	waves := c.o.t.ComaRMS(r2.Norm(a))
	code := map[string]string{Aligned: CodeAligned, AirLimit: CodeAir, GivenUp: CodeGivenUp}[result]
	return []Cue{{Code: code, Action: Done, Result: result, Reason: why, Args: map[string]any{
		"waves": waves, "ratio": r2.Norm(a) / c.o.tol, "strehl": optics.Strehl(waves),
		"bound": c.belief.worst(c.star) / c.o.tol,
	}}}
}
