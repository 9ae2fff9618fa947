package night

import (
	"maps"
	"math"
	"slices"

	"halocue/internal/coach"
	"halocue/internal/hands"
)

// Memory returns what this night has taught; ok is false as long as that is
// nothing.
func (c *Coach) Memory() (m coach.Memory, ok bool) {
	if c.knobs.Orientations() != nil {
		m.Mirrored, m.Rotation, m.RotationSD = c.knobs.MeanOrientation()
		for k := range m.PerTurn {
			m.PerTurn[k], m.PerTurnSD[k] = c.knobs.PerTurn(k), c.knobs.PerTurnSD(k)
		}
	} else if len(c.heard) == 0 {
		return coach.Memory{}, false
	}
	m.Heard = slices.Sorted(maps.Keys(c.heard))
	m.Reaction, m.Reactions, m.Unhurried = c.reaction, c.reactions.Clone(), c.unhurried
	if c.seen.secondary {
		m.Secondary, m.SecondarySigma = c.s.Telescope.Secondary/c.s.Telescope.Aperture, c.seen.secondarySigma
	}
	m.Turned = c.screws.turns
	m.Holds = c.bank.FocuserHolds()
	if c.proven != nil {
		a := *c.proven
		m.Axis = &a
	}
	return m, true
}

// pace returns how soon the person of an earlier night began, and how many times
// the usual patience was asked for; m may be nil.
func pace(m *coach.Memory) (hands.Reactions, float64) {
	if m == nil {
		return hands.Reactions{}, 1
	}
	return m.Reactions.Clone(), math.Min(math.Max(m.Unhurried, 1), mostUnhurried)
}
