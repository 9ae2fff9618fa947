package night

import (
	"cmp"
	"math"

	"halocue/internal/hands"
)

// What hands are asked for; each has a reaction time of its own.
const (
	byKnob  = "knob"  // a turn, by a hand that is at the knobs
	byWalk  = "walk"  // a turn, by a hand that must first come from the focuser
	byPush  = "push"  // the tube
	byFocus = "focus" // the focuser
)

// fixedPaces is how long after the words a hand may begin before it is late, seconds, by
// the settings' pace; "learned" goes by what the hands show. Judgement: a hand that takes longer than 5 s is looking for something,
// one that takes longer than 25 s has not heard.
var fixedPaces = map[string]float64{"slow": 25, "steady": 12, "quick": 5}

const (
	trustedFrom = 6   // reactions, from which on the first guess no longer counts
	walkTime    = 8.0 // more for the first walk from the focuser, seconds
	soonest     = 3.0 // no hand is late sooner than this, seconds
)

// usual returns when a hand will probably have begun: by its own measure, else by
// that of whatever else it did, else by a guess.
func (c *Coach) usual(kind string) float64 {
	if q, ok := c.reactions.Quantile(kind); ok {
		return q
	}
	most, any := 0.0, false
	for k := range c.reactions {
		if q, ok := c.reactions.Quantile(k); ok && k != byWalk {
			most, any = math.Max(most, q), true
		}
	}
	if !any {
		most = 3
	}
	if kind == byWalk {
		most += 2
	}
	return most
}

// patience returns how long after the words a hand may begin before it is late,
// seconds. The first guess is generous, and gives way to what is seen.
func (c *Coach) patience(kind string) float64 {
	first := float64(firstMove)
	fixed, isFixed := fixedPaces[c.s.Pace]
	if isFixed {
		first = fixed
	}
	if kind == byWalk {
		first += cmp.Or(c.s.WalkS, walkTime)
	}
	wait := first
	if q, ok := c.reactions.Quantile(kind); ok && !isFixed {
		own := 1 + 1.5*q
		trust := math.Min(1, float64(len(c.reactions[kind]))/trustedFrom)
		wait = trust*own + (1-trust)*math.Max(first, own)
	}
	return math.Min(math.Max(wait*c.unhurried, soonest), hands.Latest)
}

// asked names what the hand is asked for.
func (c *Coach) asked() string {
	switch c.hand.Kind {
	case hands.Pushing:
		return byPush
	case hands.Racking:
		return byFocus
	}
	if c.hand.walks {
		return byWalk
	}
	return byKnob
}

// lateness is how long after the words the hand has begun that is seen to begin now,
// seconds, without the earpiece's delay and the time until a move shows, some 0.3 s.
func (c *Coach) lateness() float64 {
	const shows = 0.3
	return c.t - c.hand.SpokenAt - shows - c.s.EarDelayS
}

// began takes in that the hand has begun. Once the words were said again nobody knows
// which of them were obeyed.
func (c *Coach) began() {
	h := &c.hand
	if h.begun || c.driven {
		return
	}
	h.begun = true
	if h.Kind != hands.Pushing {
		c.gaveWay = 0
	}
	if h.told > 1 {
		return
	}
	h.early = math.IsInf(h.SpokenAt, 1)
	c.reactions.Add(c.asked(), c.lateness())
	h.learned = true
}

// mostUnhurried is how many times the usual patience there is for the asking.
const (
	moreTime      = 1.5 // at a time
	mostUnhurried = 4.0
)
