package indoors

import (
	"math"
	"math/rand/v2"

	"halocue/internal/cue"
	"halocue/internal/simulate/telescope"
)

// Hands turn screws and plug by what they hear and nothing else: roughly, after the words
// and a reaction time. A new turn, stop, wait or half-turn replaces what they were doing.
type Hands struct {
	tel   *Telescope
	skill telescope.Skill
	rng   *rand.Rand
	t     float64
	heard *cue.Instruction
	at    float64 // when they begin it
	doing *movement
}

// movement is a screw or the plug on its way; it begins and ends gently.
type movement struct {
	start, took float64
	amount      float64
	done        float64
	screw       *screw
	play        float64
}

// NewHands returns hands on tel.
func NewHands(tel *Telescope) *Hands {
	return &Hands{tel: tel, skill: tel.s.Skill, rng: rand.New(rand.NewPCG(tel.s.Seed, 99))}
}

func (h *Hands) between(lo, hi float64) float64 { return lo + (hi-lo)*h.rng.Float64() }

// Hear takes an instruction in. It may be called before its words are out.
func (h *Hands) Hear(in cue.Instruction) {
	at := in.End
	switch in.Action {
	case "stop", "wait":
		at += h.between(h.skill.StopMin, h.skill.StopMax)
	case "turn", "half-turn":
		at += h.between(h.skill.ReactMin, h.skill.ReactMax)
	default:
		return
	}
	h.heard, h.at = &in, at
}

// Advance moves the hands on to time t, seconds.
func (h *Hands) Advance(t float64) {
	const step = 0.02
	for h.t < t-1e-9 {
		h.t = math.Min(h.t+step, t)
		if h.heard != nil && h.t >= h.at {
			h.begin(*h.heard)
			h.heard = nil
		}
		if h.doing != nil && h.move(h.doing) {
			h.doing = nil
		}
	}
}

func (h *Hands) begin(in cue.Instruction) {
	h.doing = nil
	switch in.Action {
	case "turn":
		h.doing = h.turn(in)
	case "half-turn":
		h.doing = &movement{start: h.t, took: h.between(3, 5), amount: 2 * math.Pi * in.Turns * (1 + h.skill.Amount*h.between(-0.4, 0.4))}
	}
}

// turn makes a movement of a turn, roughly, and now and then of the wrong screw.
func (h *Hands) turn(in cue.Instruction) *movement {
	cell, screws := h.tel.s.Cell, &h.tel.primary
	k := cue.KnobIndex(cell.Knobs, in.Knob)
	if k < 0 {
		cell, screws = h.tel.s.Holder, &h.tel.secondary
		if k = cue.KnobIndex(cell.Knobs, in.Knob); k < 0 {
			return nil
		}
	}
	turns := in.Turns * (1 + h.between(-h.skill.Amount, h.skill.Amount))
	if in.Direction == "loosen" {
		turns = -turns
	}
	if h.rng.Float64() < h.skill.WrongKnob {
		k = (k + 1 + h.rng.IntN(2)) % 3
	}
	if h.rng.Float64() < h.skill.WrongWay {
		turns = -turns
	}
	took := h.between(0.6, 1.2) * math.Pow(math.Max(16*math.Abs(turns), 0.3), 0.75)
	return &movement{start: h.t, took: took, amount: turns, screw: &screws[k], play: cell.Backlash}
}

// move takes a movement on to now, and reports whether it is over.
func (h *Hands) move(m *movement) bool {
	x := math.Min((h.t-m.start)/m.took, 1)
	part := x * x * (3 - 2*x)
	by := m.amount * (part - m.done)
	m.done = part
	if m.screw != nil {
		m.screw.turn(by, m.play)
	} else {
		h.tel.s.Plug += by
	}
	return x >= 1
}
