package virtual

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"
)

// The actions and directions that hands understand: those of the outside
// contract. Everything else (warn, tell, done) moves nothing.
const (
	actTurn      = "turn"
	actStop      = "stop"
	actWait      = "wait"
	actRecentre  = "recentre"
	actDefocus   = "defocus"
	actOtherSide = "other-side"
	actLock      = "lock"
)

// Hands turn, push and rack a telescope by what they hear and nothing else. They
// begin after the words have ended and a time to react, and do roughly what was
// asked. A new turn, stop, wait or recentre replaces what they were doing;
// defocus, other-side and lock wait until they are free.
type Hands struct {
	tel   *Telescope
	skill Skill
	rng   *rand.Rand
	t     float64

	heard []order // not begun yet, by the time at which they begin
	doing task    // nil when idle
	done  []Deed
}

// order is an instruction and when the hands get round to it.
type order struct {
	Instruction
	at float64
}

// task is a movement under way; step moves the telescope on to the time t and
// reports whether the movement is over.
type task interface {
	step(tel *Telescope, t float64) bool
}

// Deed is something that the hands really did, for the journal of a test.
type Deed struct {
	Instruction
	Start float64 // seconds
	Knob  string  // the knob that was taken, which may be the wrong one
	Turns float64 // the turn that was meant, > 0 tightens
}

// NewHands returns hands on tel, with the skill and seed of its night.
func NewHands(tel *Telescope) *Hands {
	return &Hands{tel: tel, skill: tel.night.Skill, rng: chance(tel.night.Seed, handStream), t: tel.t}
}

// Hear takes an instruction in. It may be called before its words are out.
func (h *Hands) Hear(in Instruction) {
	var at float64
	switch in.Action {
	case actStop, actWait:
		at = in.End + uniform(h.rng, h.skill.StopMin, h.skill.StopMax)
	case actTurn, actRecentre, actDefocus, actOtherSide, actLock:
		at = in.End + uniform(h.rng, h.skill.ReactMin, h.skill.ReactMax)
	default:
		return
	}
	if n := len(h.heard); n > 0 && h.heard[n-1].at > at && !replaces(in.Action) {
		at = h.heard[n-1].at
	}
	h.heard = append(h.heard, order{in, at})
}

// Busy reports whether a movement is under way or about to begin.
func (h *Hands) Busy() bool { return h.doing != nil || len(h.heard) > 0 }

// Deeds returns what the hands have done so far.
func (h *Hands) Deeds() []Deed { return h.done }

// Advance moves the hands and then the telescope on to time t, seconds, in steps
// short enough for a movement to be seen as one.
func (h *Hands) Advance(t float64) {
	const step = 0.02
	for h.t < t-1e-9 {
		h.t = math.Min(h.t+step, t)
		h.begin()
		if h.doing != nil && h.doing.step(h.tel, h.t) {
			h.doing = nil
		}
		h.tel.Advance(h.t)
	}
}

// begin starts what is due.
func (h *Hands) begin() {
	for i := len(h.heard) - 1; i >= 0; i-- {
		if o := h.heard[i]; o.at <= h.t && replaces(o.Action) {
			h.heard = h.heard[i+1:]
			h.doing = h.task(o.Instruction)
			break
		}
	}
	if h.doing == nil && len(h.heard) > 0 && h.heard[0].at <= h.t {
		o := h.heard[0]
		h.heard = h.heard[1:]
		h.doing = h.task(o.Instruction)
	}
}

// replaces reports whether an action ends what the hands were doing and what
// they had not begun.
func replaces(action string) bool {
	switch action {
	case actTurn, actStop, actWait, actRecentre:
		return true
	}
	return false
}

// task makes a movement of an instruction, roughly.
func (h *Hands) task(in Instruction) task {
	deed := Deed{Instruction: in, Start: h.t}
	var m task
	switch in.Action {
	case actTurn:
		deed.Knob, deed.Turns = h.mistake(in)
		m = h.turning(deed)
	case actRecentre:
		m = h.pushing()
	case actDefocus:
		d := 0.25 * h.roughly(h.skill.Amount)
		if in.Direction == "less" {
			d = -d
		}
		m = h.racking(h.tel.z*(1+d), uniform(h.rng, 0.8, 1.6))
	case actOtherSide:
		spread := h.skill.Amount / 0.35 // 0.8 to 1.25 for a clumsy person
		m = h.racking(-h.tel.z*uniform(h.rng, 1-0.2*spread, 1+0.25*spread), uniform(h.rng, 1.5, 3))
	case actLock:
		deed.Knob = in.Knob
		if k := h.knob(in.Knob); k >= 0 {
			snug := 0.0
			if in.Direction == "snug" {
				snug = 1
			}
			m = &locking{knob: k, from: h.tel.screws[k].lock, to: snug, ease: ease{h.t, uniform(h.rng, 1.5, 2)}}
		}
	}
	h.done = append(h.done, deed)
	return m
}

// roughly returns a factor within the given fraction of 1.
func (h *Hands) roughly(within float64) float64 { return uniform(h.rng, 1-within, 1+within) }

func (h *Hands) knob(name string) int {
	for i, k := range h.tel.night.Cell.Knobs {
		if k.Name == name {
			return i
		}
	}
	return -1
}

// mistake returns the knob that is really taken, and the turn that is meant.
func (h *Hands) mistake(in Instruction) (knob string, turns float64) {
	turns = in.Turns * h.roughly(h.skill.Amount)
	if in.Direction == "loosen" {
		turns = -turns
	}
	knob = in.Knob
	knobs := h.tel.night.Cell.Knobs
	if k := h.knob(knob); k >= 0 && h.rng.Float64() < h.skill.WrongKnob {
		knob = knobs[(k+1+h.rng.IntN(len(knobs)-1))%len(knobs)].Name
	}
	if h.rng.Float64() < h.skill.WrongWay {
		turns = -turns
	}
	return knob, turns
}

func (h *Hands) turning(d Deed) task {
	k := h.knob(d.Knob)
	if k < 0 {
		return nil
	}
	// A sixteenth takes 0.5 to 1 s, a quarter about 2 s, less than a sixteenth
	// not much less: the fingers must close first.
	took := uniform(h.rng, 0.5, 1) * math.Pow(math.Max(16*math.Abs(d.Turns), 0.3), 0.75)
	return &turning{knob: k, turns: d.Turns, ease: ease{h.t, took}}
}

func (h *Hands) pushing() task {
	way := r2.Scale(-1, h.tel.star())
	off := r2.Add(gauss2(h.rng, h.skill.Recentre*r2.Norm(way)/math.Sqrt2), gauss2(h.rng, h.skill.Recentre*0.3))
	d := r2.Add(way, off)
	return &pushing{way: d, ease: ease{h.t, uniform(h.rng, 1, 3)}}
}

func (h *Hands) racking(z, took float64) task {
	nudge := gauss2(h.rng, 0.05)
	return &racking{to: z, from: h.tel.z, nudge: nudge, ease: ease{h.t, took}}
}
