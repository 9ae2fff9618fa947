package telescope

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

// Hands turn, push and rack a telescope by what they hear and nothing else. They begin a
// reaction time after the words have ended, or shortly before, and do roughly what was
// asked. A new turn, stop, wait or recentre replaces what they were doing; defocus,
// other-side and lock wait until they are free. What is said again changes nothing for
// hands that are about to do it or are doing it. Other actions move nothing.
type Hands struct {
	tel       *Telescope
	skill     Skill
	rng       *rand.Rand
	ears      *rand.Rand
	t         float64
	atFocuser bool

	heard  []order // not begun yet, by the time at which they begin
	doing  task    // nil when idle
	of     cue.Instruction
	done   []Deed
	missed []cue.Instruction
}

// order is an instruction and when the hands begin it.
type order struct {
	cue.Instruction
	at float64
}

// task is a movement under way; step moves the telescope on to the time t and
// reports whether the movement is over.
type task interface {
	step(tel *Telescope, t float64) bool
}

// Deed is something that the hands really did, for the journal of a test.
type Deed struct {
	cue.Instruction
	Start float64 // seconds
	Knob  string  // the knob that was taken, which may be the wrong one
	Turns float64 // the turn that was meant, > 0 tightens
}

// NewHands returns hands on tel, with the skill and seed of its night.
func NewHands(tel *Telescope) *Hands {
	s := tel.night.Skill
	if s.Tremor > 0 {
		tel.night.Mount.Touch *= s.Tremor
	}
	seed := tel.night.Seed
	return &Hands{tel: tel, skill: s, rng: chance(seed, handStream), ears: chance(seed, earStream), t: tel.t, atFocuser: true}
}

// Hear takes an instruction in. It may be called before its words have ended.
func (h *Hands) Hear(in cue.Instruction) {
	var at float64
	switch in.Action {
	case cue.Stop, cue.Wait:
		at = in.End + uniform(h.rng, h.skill.StopMin, h.skill.StopMax)
	case cue.Turn, cue.Recentre, cue.Defocus, cue.OtherSide, cue.Lock:
		if in.Again && h.knows(in) {
			return
		}
		if h.skill.Misses > 0 && h.ears.Float64() < h.skill.Misses {
			h.missed = append(h.missed, in)
			return
		}
		at = math.Max(in.Begin, in.End+uniform(h.rng, h.skill.ReactMin, h.skill.ReactMax)) + h.walk(in.Action)
	default:
		return
	}
	if n := len(h.heard); n > 0 && h.heard[n-1].at > at && !replaces(in.Action) {
		at = h.heard[n-1].at
	}
	h.heard = append(h.heard, order{in, at})
}

// knows reports whether the hands are about to do what is said again, or are doing it.
func (h *Hands) knows(in cue.Instruction) bool {
	same := func(o cue.Instruction) bool {
		return o.Action == in.Action && o.Knob == in.Knob && o.Direction == in.Direction
	}
	return h.doing != nil && same(h.of) || slices.ContainsFunc(h.heard, func(o order) bool { return same(o.Instruction) })
}

// walk is how long it takes to get to where an action is done.
func (h *Hands) walk(action cue.Action) float64 {
	focuser := action == cue.Defocus || action == cue.OtherSide
	if h.skill.WalkMax == 0 || action == cue.Recentre || focuser == h.atFocuser {
		return 0
	}
	h.atFocuser = focuser
	return uniform(h.rng, h.skill.WalkMin, h.skill.WalkMax)
}

// Busy reports whether a movement is under way or about to begin.
func (h *Hands) Busy() bool { return h.doing != nil || len(h.heard) > 0 }

// Deeds returns what the hands have done so far.
func (h *Hands) Deeds() []Deed { return h.done }

// Missed returns what was said and not heard.
func (h *Hands) Missed() []cue.Instruction { return h.missed }

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
			if h.skill.Late && o.Action != cue.Stop && o.Action != cue.Wait {
				break // one after the other
			}
			h.heard = h.heard[i+1:]
			h.take(o)
			break
		}
	}
	if len(h.heard) == 0 {
		return
	}
	o := h.heard[0]
	if (o.Action == cue.Turn || o.Action == cue.Lock) && o.at-h.skill.Feel <= h.t {
		h.tel.touched = math.Max(h.tel.touched, 0.1)
	}
	if h.doing == nil && o.at <= h.t {
		h.heard = h.heard[1:]
		h.take(o)
	}
}

func (h *Hands) take(o order) { h.of, h.doing = o.Instruction, h.task(o.Instruction) }

// replaces reports whether an action ends what the hands were doing and what
// they had not begun.
func replaces(action cue.Action) bool {
	return slices.Contains([]cue.Action{cue.Turn, cue.Stop, cue.Wait, cue.Recentre}, action)
}

// task makes a movement of an instruction, roughly.
func (h *Hands) task(in cue.Instruction) task {
	deed := Deed{Instruction: in, Start: h.t}
	var m task
	switch in.Action {
	case cue.Turn:
		deed.Knob, deed.Turns = h.mistake(in)
		if last := h.lastTurn(); in.Back && last != nil {
			deed.Knob, deed.Turns = last.Knob, -last.Turns*h.roughly(h.skill.Amount)
		}
		m = h.turning(deed)
	case cue.Recentre:
		m = h.pushing(in.Goal)
	case cue.Defocus:
		// A quarter of the ring; near focus, where there is none, until one is seen.
		d := 0.25 * h.roughly(h.skill.Amount) * math.Max(math.Abs(h.tel.z), 0.3*math.Abs(h.tel.night.Z))
		if in.Direction == "less" {
			d = -d
		}
		m = h.racking(h.tel.z+math.Copysign(d, d*h.tel.z), uniform(h.rng, 0.8, 1.6))
	case cue.OtherSide:
		spread := h.skill.Amount / 0.35 // 0.8 to 1.25 for a clumsy person
		m = h.racking(-h.tel.z*uniform(h.rng, 1-0.2*spread, 1+0.25*spread), uniform(h.rng, 1.5, 3))
	case cue.Lock:
		deed.Knob = in.Knob
		if k := cue.KnobIndex(h.tel.night.Cell.Knobs, in.Knob); k >= 0 {
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

// lastTurn is the last turn that was begun, or nil.
func (h *Hands) lastTurn() *Deed {
	for i := len(h.done) - 1; i >= 0; i-- {
		if h.done[i].Action == cue.Turn {
			return &h.done[i]
		}
	}
	return nil
}

// roughly returns a factor within the given fraction of 1.
func (h *Hands) roughly(within float64) float64 { return uniform(h.rng, 1-within, 1+within) }

// mistake returns the knob that is really taken, and the turn that is meant.
func (h *Hands) mistake(in cue.Instruction) (knob string, turns float64) {
	turns = math.Max(in.Turns*h.roughly(h.skill.Amount)*(1+h.skill.Over), h.skill.Coarse)
	if in.Direction == "loosen" {
		turns = -turns
	}
	knob = in.Knob
	knobs := h.tel.night.Cell.Knobs
	if k := cue.KnobIndex(h.tel.night.Cell.Knobs, knob); k >= 0 && h.rng.Float64() < h.skill.WrongKnob {
		knob = knobs[(k+1+h.rng.IntN(len(knobs)-1))%len(knobs)].Name
	}
	if h.rng.Float64() < h.skill.WrongWay {
		turns = -turns
	}
	return knob, turns
}

func (h *Hands) turning(d Deed) task {
	k := cue.KnobIndex(h.tel.night.Cell.Knobs, d.Knob)
	if k < 0 {
		return nil
	}
	m := &turning{knob: k}
	t := h.t
	for _, part := range h.parts(d.Turns) {
		// A sixteenth of a turn takes 0.5 to 1 s, a quarter about 2 s; less than a
		// sixteenth takes not much less, because the fingers must close first (a guess).
		took := uniform(h.rng, 0.5, 1) * math.Pow(math.Max(16*math.Abs(part), 0.3), 0.75)
		m.parts = append(m.parts, grip{ease{t, took}, part})
		t += took
		if h.skill.RestMax > 0 {
			t += uniform(h.rng, h.skill.RestMin, h.skill.RestMax)
		}
	}
	return m
}

// parts splits a turn into the movements in which it is made.
func (h *Hands) parts(turns float64) []float64 {
	n := 1
	if h.skill.Step > 0 {
		n = int(math.Ceil(math.Abs(turns)/h.skill.Step - 1e-9))
	}
	if n == 1 && h.skill.LetGo > 0 && h.rng.Float64() < h.skill.LetGo {
		first := uniform(h.rng, 0.3, 0.7)
		return []float64{first * turns, (1 - first) * turns}
	}
	parts := make([]float64, max(n, 1))
	for i := range parts {
		parts[i] = turns / float64(len(parts))
	}
	return parts
}

// pushing brings the star to the goal, or to the frame's centre.
func (h *Hands) pushing(goal *r2.Vec) task {
	way := r2.Scale(-1, r2.Add(h.tel.star(), h.tel.sag))
	if c := h.tel.night.Camera; goal != nil {
		middle := r2.Vec{X: float64(c.Width-1) / 2, Y: float64(c.Height-1) / 2}
		way = r2.Add(way, r2.Scale(c.Pixel, r2.Sub(*goal, middle)))
	}
	off := r2.Add(gauss2(h.rng, h.skill.Recentre*r2.Norm(way)/math.Sqrt2), gauss2(h.rng, h.skill.Recentre*0.3))
	d := r2.Add(way, off)
	return &pushing{way: d, ease: ease{h.t, uniform(h.rng, 1, 3)}}
}

func (h *Hands) racking(z, took float64) task {
	nudge := gauss2(h.rng, 0.05)
	return &racking{to: z, from: h.tel.z, nudge: nudge, ease: ease{h.t, took}}
}
