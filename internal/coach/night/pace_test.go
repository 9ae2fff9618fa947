package night

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/estimate"
	"halocue/internal/hands"
)

// waitsFor shows a still star after the first cue and returns when what was done
// about a hand that does not begin: seconds from the end of the words to the quiet
// sound, to the words again and to the question; 0 for never.
func waitsFor(t *testing.T, s Settings, seconds float64) (sound, words, question float64) {
	p := newScript(t, s)
	p.show(2, ringAt(640, 480, 100))
	if len(p.said) != 1 || p.said[0].Action != cue.OtherSide {
		t.Fatalf("said %v first", p.codes())
	}
	first := p.said[0]
	out := p.t
	for p.t < out+seconds && question == 0 {
		was := len(p.said)
		p.show(0.1, ringAt(640, 480, 100))
		if p.last.Remind && sound == 0 {
			sound = p.t - out
		}
		if len(p.said) == was {
			continue
		}
		switch c := p.said[was]; {
		case c.Again && words == 0:
			words = p.t - out
			if c.Action != first.Action || c.Code != first.Code || c.Direction != first.Direction {
				t.Errorf("said again as %+v, first %+v", c, first)
			}
		case c.Code == cue.CodeReady:
			question = p.t - out
		default:
			t.Errorf("%s is said to a hand that is late", c.Code)
		}
	}
	return sound, words, question
}

// A first night waits 15 s before it makes a sound, then says the same words, then
// asks; a fixed pace waits as long as it says.
func TestLateHandsAreReminded(t *testing.T) {
	for pace, want := range map[string]float64{"": 15, "learned": 15, "slow": 25, "steady": 12, "quick": 5} {
		sound, words, question := waitsFor(t, Settings{Pace: pace}, 120)
		if sound < want-2 || sound > want+2 {
			t.Errorf("pace %q: reminded after %.1f s, want %.0f", pace, sound, want)
		}
		if words < sound+3 || question < words+3 {
			t.Errorf("pace %q: sound at %.1f s, words at %.1f, question at %.1f", pace, sound, words, question)
		}
	}
	if _, err := New(Settings{Settings: coach.Settings{Telescope: f5inch8}, Pace: "hasty"}); err == nil {
		t.Error("a pace that is none is taken")
	}
}

// Whoever is known to be quick is missed sooner, whoever is slow later; a single
// long pause among many is no habit; and "slow down" is heard.
func TestPaceIsLearned(t *testing.T) {
	known := func(seconds ...float64) Settings {
		return Settings{Memory: &coach.Memory{Reactions: hands.Reactions{byFocus: seconds}}}
	}
	quick, _, _ := waitsFor(t, known(0.8, 1, 0.9, 1.1, 0.7, 1), 60)
	coughed, _, _ := waitsFor(t, known(0.8, 1, 0.9, 1.1, 0.7, 1, 30), 60)
	slow, _, _ := waitsFor(t, known(6, 9, 11, 5, 12, 8, 10), 60)
	if quick > 5 || coughed > quick+2 || slow < 14 {
		t.Errorf("reminded after %.1f s, after one long pause %.1f, if slow %.1f", quick, coughed, slow)
	}
	c := mustNew(t, Settings{Settings: coach.Settings{Telescope: f5inch8}})
	was := c.patience(byKnob)
	if a := c.Hear(command.TakeTime, 1); len(a.Cues) != 1 || a.Cues[0].Code != cue.CodeTakeTime || c.patience(byKnob) <= was {
		t.Errorf("slow down: %+v, patience %.1f of %.1f s", a.Cues, c.patience(byKnob), was)
	}
	if c.patience(byWalk) < c.patience(byKnob)+5 {
		t.Error("no time is given to walk round the tube")
	}
	if far := mustNew(t, Settings{Settings: coach.Settings{Telescope: f5inch8}, WalkS: 14}); far.patience(byWalk) != far.patience(byKnob)+14 {
		t.Errorf("a walk of 14 s has %.1f s more", far.patience(byWalk)-far.patience(byKnob))
	}
}

// A hand that begins while the words are still being said obeys them.
func TestEarlyHandObeys(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(1.5, ringAt(640, 480, 100))
	if len(p.said) != 1 {
		t.Fatalf("said %v", p.codes())
	}
	p.show(0.7, ringAt(640, 480, 60)) // the words take 1.5 s
	if h := p.c.hand; h.Kind != hands.Racking || !h.begun || !h.early || p.said[0].Again {
		t.Errorf("the focuser goes during the words, and the hand is %+v", h)
	}
	if got := p.c.reactions[byFocus]; len(got) != 1 || got[0] != 0 {
		t.Errorf("learned %v", got)
	}
}

// "I have done it" ends what could not be seen; then the same knob may be asked for
// further, and nothing but that changes an amount.
func TestDone(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(2, ringAt(640, 480, 100))
	turn := cue.Cue{ID: 99, Code: cue.CodeTurn, Action: cue.Turn, Knob: "upper", Direction: cue.Tighten, Turns: 0.1}
	p.c.begin(turn, p.t)
	p.c.wordsOut(99, p.t)
	was := len(p.said)
	p.show(5, ringAt(640, 480, 100))
	if len(p.said) != was {
		t.Fatalf("said %v to a hand that has five seconds so far", p.codes()[was:])
	}
	p.hear(p.c.Hear(command.Did, p.t))
	last := p.said[len(p.said)-1]
	if last.Code != cue.CodeNoMovement || last.Knob != turn.Knob || last.Turns <= turn.Turns || last.Again {
		t.Errorf("after the person's word: %+v", last)
	}
}

// Somebody gets round to a turn after another was asked for: it is understood as the
// first, is neither a wrong knob nor a knock, and the new one is thought over.
func TestTurnObeyedLate(t *testing.T) {
	m := &coach.Memory{KnobMemory: estimate.KnobMemory{PerTurn: [3]float64{8, 8, 8}, PerTurnSD: [3]float64{0.1, 0.1, 0.1}, RotationSD: 0.02, Mirrored: 0.001}}
	p := newScript(t, Settings{Memory: m})
	p.show(2, ringAt(640, 480, 100))
	c := p.c
	c.aim = 0.8
	for i, knob := range []string{"upper", "right-hand"} {
		c.begin(cue.Cue{ID: 90 + i, Code: cue.CodeTurn, Action: cue.Turn, Knob: knob, Direction: cue.Tighten, Turns: 0.1}, p.t)
		c.wordsOut(90+i, p.t)
	}
	was, up := len(p.said), r2.Vec{}
	for _, mode := range c.knobs.Orientations() {
		up = r2.Add(up, r2.Scale(mode.Chance, mode.Direction[0]))
	}
	for i := range 12 { // 0.6 mm, 120 px, as the upper knob moves it
		way := r2.Scale(10*float64(i), r2.Unit(up))
		p.show(0.1, ringAt(640+way.X, 480+way.Y, 100))
	}
	if h := c.hand; h.Knob != 0 || h.Kind != hands.Turning {
		t.Errorf("the hand is taken to be at knob %d", h.Knob)
	}
	for _, say := range p.said[was:] {
		if say.Code == cue.CodeWrongKnob || say.Code == cue.CodeKicked {
			t.Errorf("%s is said", say.Code)
		}
	}
}
