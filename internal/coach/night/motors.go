package night

// Driven tells that a motor does what the cue in force asks for, from the end of
// its words at time t on: the star is not taken for drifting, nor the tube for
// pushed by a hand, until Arrived. It answers false where nothing of the kind is
// asked for any more: then no motor must begin.
func (c *Coach) Driven(t float64) bool {
	if c.hand.phase != waiting || c.hand.kind != pushing && c.hand.kind != racking {
		return false
	}
	c.driven = true
	c.hand.phase, c.hand.since = moving, t
	return true
}

// Arrived tells that the motor rests at time t: at its goal, or where it was
// stopped. Through says that it is known to have passed through focus.
func (c *Coach) Arrived(t float64, through bool) {
	if !c.driven {
		return
	}
	c.driven = false
	c.hand.phase, c.hand.since = settled, t
	if c.hand.kind != racking {
		return
	}
	if through { // else the ring has to tell
		c.bank.BranchOnFocusSide(0.999)
		c.reached(t)
		c.rackedTo()
		return
	}
	c.racked()
}
