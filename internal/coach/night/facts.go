package night

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/estimate"
	"halocue/internal/hands"
	"halocue/internal/observe"
)

const (
	otherFact   = 5    // of its one-sigma: the star contradicts what was told
	otherPart   = 0.02 // of the aperture, that a secondary must differ at the least to be worth a word
	otherPixel  = 0.3  // logarithm of the ratio from which a pixel is another one: joined pixels, a Barlow lens
	surePixel   = 0.2  // relative one-sigma from which a pixel is known
	factsWithin = 12.0 // seconds that a first turn waits for them
)

// learn takes in what a careful look showed: it stands where nothing was told, and where
// it contradicts what was told, which is said.
func (c *Coach) learn(f observe.Facts) {
	c.learnSecondary(f)
	c.learnPixel(f)
}

// learnSecondary changes how much coma a shadow's lean stands for, by a few per cent.
func (c *Coach) learnSecondary(f observe.Facts) {
	t := &c.s.Telescope
	if !(f.Secondary > 0 && f.Secondary < 1 && f.SecondarySigma > 0) {
		return
	}
	if told := t.Secondary / t.Aperture; told > 0 && !c.seen.secondary {
		if off := math.Abs(told - f.Secondary); off < otherPart || off < otherFact*f.SecondarySigma {
			return
		}
		c.noted.add(cue.Cue{Code: cue.CodeSecondarySize, Action: cue.Tell, Reason: fmt.Sprintf("told %.3f of the aperture, seen %.3f", told, f.Secondary),
			Args: map[string]any{"told": math.Round(t.Secondary), "seen": math.Round(f.Secondary * t.Aperture)}})
	}
	if c.seen.secondary && f.SecondarySigma >= c.seen.secondarySigma {
		return
	}
	c.seen.secondary, c.seen.secondarySigma = true, f.SecondarySigma
	t.Secondary = f.Secondary * t.Aperture
	c.refit()
}

// learnPixel changes how long everything on the sensor is. Once a turn was made the
// knobs are known in the old length: then only the claim is held back.
func (c *Coach) learnPixel(f observe.Facts) {
	if !(f.PixelSigma > 0 && f.PixelSigma < surePixel && f.PixelMM > 0) {
		return
	}
	agrees := math.Abs(math.Log(f.PixelMM/c.o.Pixel)) < math.Max(otherFact*f.PixelSigma, otherPixel)
	switch {
	case agrees && c.s.PixelMM > 0:
	case c.screws.turns != [3]float64{}:
		c.s.PixelUnsure = math.Max(1, f.PixelMM/c.o.Pixel) * (1 + 2*f.PixelSigma)
		c.refit()
		return
	default:
		if was := c.seen.otherPixel; c.s.PixelMM > 0 {
			// Against what was told it takes two looks that agree.
			c.seen.otherPixel = f.PixelMM
			if !(math.Abs(math.Log(f.PixelMM/was)) < math.Max(otherFact*f.PixelSigma, 0.1)) {
				return
			}
			c.noted.add(cue.Cue{Code: cue.CodePixelSize, Action: cue.Warn, Reason: fmt.Sprintf("told %.2f um, the fringes say %.2f", 1000*c.o.Pixel, 1000*f.PixelMM),
				Args: map[string]any{"told": tenths(1000 * c.o.Pixel), "seen": tenths(1000 * f.PixelMM)}})
		}
		c.s.PixelMM = f.PixelMM
	}
	c.seen.pixel = true
	c.s.PixelUnsure = 1 + 2*f.PixelSigma
	moved := c.o.Pixel != c.s.PixelMM
	c.refit()
	if moved {
		holds := c.bank.Holds
		c.bank, c.track, c.radii = estimate.NewBank(c.o), hands.NewTrack(c.o.Telescope.FocalLength), nil
		c.bank.Holds = holds
	}
}

func tenths(v float64) float64 { return math.Round(10*v) / 10 }

// refit puts the telescope of the settings in the place of the one that was believed.
func (c *Coach) refit() {
	c.o = c.s.optic()
	c.bank.Refit(c.o)
}

// awaiting reports whether the first turn should wait for what a careful look will show:
// an amount for a pixel of the wrong size is a wrong amount.
func (c *Coach) awaiting() bool {
	return c.s.PixelUnsure > 1 && !c.seen.pixel && c.screws.turns == [3]float64{} && c.t-c.first < factsWithin
}

// seenFacts is what was learnt of Facts.
type seenFacts struct {
	secondary, pixel bool
	secondarySigma   float64
	otherPixel       float64 // mm, that the last look showed against what was told; 0 for none
}

// Memory returns what this night has taught; ok is false as long as that is
// nothing.
func (c *Coach) Memory() (m coach.Memory, ok bool) {
	if c.knobs.Orientations() != nil {
		m.KnobMemory = c.knobs.Memory()
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

// recall begins with what an earlier night has taught.
func (c *Coach) recall(m coach.Memory) {
	c.reactions, c.unhurried = m.Reactions.Clone(), math.Min(math.Max(m.Unhurried, 1), mostUnhurried)
	for _, k := range m.Heard {
		c.heard[k] = true
	}
	if m.PerTurn != [3]float64{} { // else it tells of the person only
		c.knobs.Recall(m.KnobMemory)
	}
	if c.s.Telescope.Secondary == 0 && m.Secondary > 0 {
		c.learnSecondary(observe.Facts{Secondary: m.Secondary, SecondarySigma: m.SecondarySigma})
	}
	c.bank.Holds = m.Holds
	c.reaction = cmp.Or(math.Max(m.Reaction, 0), c.reaction)
}
