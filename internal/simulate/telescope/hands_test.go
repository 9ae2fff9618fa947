package telescope

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
)

func turnTop(turns float64) cue.Instruction {
	return cue.Instruction{Action: "turn", Knob: "upper", Direction: "tighten", Turns: turns, Begin: 0, End: 1}
}

func TestHandsBeginAfterTheWordsAndDoWhatWasAsked(t *testing.T) {
	tel := New(still())
	h := NewHands(tel)
	h.Hear(turnTop(0.0625))
	h.Advance(1.45) // the words end at 1, a deft hand reacts after 0.5
	near(t, "turns before the reaction", tel.Truth().Turns[0], 0, 1e-12)
	h.Advance(1.8)
	if part := tel.Truth().Turns[0]; part <= 0 || part >= 0.06 {
		t.Errorf("no movement under way: %g turns", part)
	}
	h.Advance(3)
	near(t, "turns", tel.Truth().Turns[0], 0.0625, 1e-9)
	if h.Busy() {
		t.Error("still busy")
	}
}

func TestStopEndsATurn(t *testing.T) {
	tel := New(still())
	h := NewHands(tel)
	h.Hear(turnTop(1))
	h.Advance(2)
	h.Hear(cue.Instruction{Action: "stop", Begin: 2, End: 2.3})
	h.Advance(2.8)
	at := tel.Truth().Turns[0]
	h.Advance(20)
	near(t, "turns after the stop", tel.Truth().Turns[0], at, 0.05)
	if at < 0.02 || at > 0.8 {
		t.Errorf("stopped at %g turns", at)
	}
}

// A stop heard before the hand has begun: it never begins.
func TestStopBeforeTheStart(t *testing.T) {
	n := still()
	n.Skill.ReactMin, n.Skill.ReactMax = 2, 2
	tel := New(n)
	h := NewHands(tel)
	h.Hear(turnTop(1))
	h.Hear(cue.Instruction{Action: "stop", Begin: 1, End: 1.2})
	h.Advance(20)
	near(t, "turns", tel.Truth().Turns[0], 0, 0)
}

func TestNewTurnReplacesAndLockWaits(t *testing.T) {
	n := still()
	n.Cell.Locks = true
	tel := New(n)
	h := NewHands(tel)
	for i := range 3 {
		tel.Lock(i, 0)
	}
	h.Hear(turnTop(1))
	h.Hear(cue.Instruction{Action: "lock", Knob: "right-hand", Direction: "snug", End: 1.2})
	h.Advance(2.5)
	if l := tel.Truth().Locks[1]; l != 0 {
		t.Errorf("the lock did not wait: %g", l)
	}
	h.Advance(15)
	near(t, "lock", tel.Truth().Locks[1], 1, 0)
	near(t, "turns", tel.Truth().Turns[0], 1, 1e-9)
}

func TestRecentreDefocusOtherSide(t *testing.T) {
	n := still()
	n.Star = r2.Vec{X: 1.5, Y: -1}
	tel := New(n)
	h := NewHands(tel)
	h.Hear(cue.Instruction{Action: "recentre"})
	h.Advance(5)
	near(t, "star", r2.Norm(tel.Truth().Star), 0, 1e-9)
	h.Hear(cue.Instruction{Action: "defocus", Direction: "less", End: 5})
	h.Advance(10)
	near(t, "z", tel.Truth().Z, 0.75*n.Z, 1e-9)
	h.Hear(cue.Instruction{Action: "other-side", End: 10})
	h.Advance(20)
	near(t, "z", tel.Truth().Z, -0.75*n.Z, 1e-9)
}

func TestWordsThatMoveNothing(t *testing.T) {
	tel := New(still())
	h := NewHands(tel)
	before := tel.Truth()
	for _, a := range []cue.Action{"tell", "warn", "done", "wait", "stop", "sing"} {
		h.Hear(cue.Instruction{Action: a, Knob: "upper", Turns: 1})
	}
	h.Advance(10)
	if after := tel.Truth(); after.Axis != before.Axis || after.Star != before.Star || after.Z != before.Z {
		t.Errorf("something moved: %+v", after)
	}
}

// What clumsy hands do: amount +-35 %, wrong knob 4 %, wrong way 3 %.
func TestClumsyHandsAreAsClumsyAsTheyShouldBe(t *testing.T) {
	n := still()
	n.Skill = Clumsy
	h := NewHands(New(n))
	const trials = 20000
	var knob, way int
	lo, hi := math.Inf(1), 0.0
	for range trials {
		k, turns := h.mistake(turnTop(1))
		if k != "upper" {
			knob++
		}
		if turns < 0 {
			way++
		}
		lo, hi = math.Min(lo, math.Abs(turns)), math.Max(hi, math.Abs(turns))
	}
	near(t, "wrong knob", float64(knob)/trials, 0.04, 0.006)
	near(t, "wrong way", float64(way)/trials, 0.03, 0.006)
	near(t, "least", lo, 0.65, 0.01)
	near(t, "most", hi, 1.35, 0.01)
}

// Somebody who hears the same words again on the way to a knob turns it once.
func TestSaidAgainIsDoneOnce(t *testing.T) {
	n := still()
	n.Skill.ReactMin, n.Skill.ReactMax = 6, 6
	tel := New(n)
	h := NewHands(tel)
	h.Hear(turnTop(0.0625))
	again := turnTop(0.0625)
	again.Begin, again.End, again.Again = 4, 5, true
	h.Hear(again)
	h.Advance(30)
	near(t, "turns", tel.Truth().Turns[0], 0.0625, 1e-9)
}

// Every person begins within the stated times.
func TestPersonsBeginWhenTheyShould(t *testing.T) {
	for _, p := range Persons {
		n := still()
		n.Skill = p.Skill
		n.Skill.Misses = 0
		tel := New(n)
		h := NewHands(tel)
		h.atFocuser = false
		in := turnTop(0.25)
		in.Begin, in.End = 3, 5
		h.Hear(in)
		h.Advance(40)
		if len(h.Deeds()) != 1 {
			t.Errorf("%s: %d deeds", p.Name, len(h.Deeds()))
			continue
		}
		if s := h.Deeds()[0].Start; s < math.Max(3, 5+p.Skill.ReactMin)-0.03 || s > 5+p.Skill.ReactMax+0.03 {
			t.Errorf("%s begins at %.2f s; the words are said from 3 to 5 s", p.Name, s)
		}
	}
	if _, err := PersonNamed("nobody"); err == nil {
		t.Error("nobody is a person")
	}
}

// The careful one turns a tenth at a time, and rests in between.
func TestCarefulHandsTurnInSteps(t *testing.T) {
	h := &Hands{skill: Skill{Step: 0.1}, rng: chance(1, handStream)}
	if parts := h.parts(0.25); len(parts) != 3 || math.Abs(parts[0]+parts[1]+parts[2]-0.25) > 1e-12 {
		t.Errorf("a quarter turn in steps of a tenth: %v", parts)
	}
}
