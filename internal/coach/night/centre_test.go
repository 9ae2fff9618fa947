package night

import (
	"slices"
	"testing"

	"halocue/internal/cue"
	"halocue/internal/observe"
)

// push moves the ring from one place to another in a second, as a hand on the tube does.
func (p *script) push(fromX, toX, y float64) {
	for i := range 10 {
		p.show(0.05, ringAt(fromX+(toX-fromX)*float64(i+1)/10, y, 100))
	}
}

// As the star comes to where it is wanted the tone rises to its top, and it is said at
// once that this is enough.
func TestCentredIsHeard(t *testing.T) {
	p := newScript(t, Settings{})
	p.show(3, ringAt(1200, 480, 100))
	if len(p.said) != 1 || p.said[0].Code != cue.CodeRecentre {
		t.Fatalf("said %v", p.codes())
	}
	p.show(2, ringAt(1200, 480, 100))
	low := p.last.Tone.Error
	p.push(1200, 640, 480)
	if !slices.Contains(p.codes(), cue.CodeCentred) || p.last.Tone.State != cue.ToneCentre || p.last.Tone.Error > 0 || low < 0.5 {
		t.Errorf("said %v; the tone %+v, was %.2f", p.codes(), p.last.Tone, low)
	}
	p.show(3, ringAt(640, 480, 100))
	if p.last.Tone.State == cue.ToneCentre {
		t.Errorf("three seconds later the tone is still %+v", p.last.Tone)
	}
}

// A push that fell short or went too far is corrected by what it did itself.
func TestPushIsToldByThePushBefore(t *testing.T) {
	for _, c := range []struct {
		to   float64
		code string
	}{
		{1000, cue.CodeRecentreSame}, {840, cue.CodeRecentreSameHalf}, {200, cue.CodeRecentreOtherHalf}, {380, cue.CodeRecentreOtherHalf},
	} {
		p := newScript(t, Settings{})
		p.show(3, ringAt(1200, 480, 100))
		p.show(2, ringAt(1200, 480, 100))
		p.push(1200, c.to, 480)
		p.show(1, ringAt(c.to, 480, 100))
		goal := p.c.upDrift()
		if got := p.c.pushAs(goal); got != c.code {
			t.Errorf("pushed from 1200 to %g, wanted at 640: %q, want %q", c.to, got, c.code)
		}
	}
}

// A star that a knob has taken out of sight is brought back by that knob, not by the tube;
// one that is lost otherwise by the tube.
func TestStarLostByAKnob(t *testing.T) {
	for _, knob := range []bool{true, false} {
		p := newScript(t, Settings{})
		p.show(0.8, ringAt(640, 480, 100))
		if knob {
			p.show(1.2, ringAt(640, 480, 100))
			say := cue.Cue{Code: cue.CodeTurn, Action: cue.Turn, Knob: p.c.s.Knobs[1].Name, Direction: cue.Tighten, Turns: 0.1}
			p.hear(p.c.advise([]cue.Cue{say}))
			p.show(2, ringAt(640, 480, 100))
			p.push(640, 1180, 480)
		}
		was := len(p.said)
		p.show(8, observe.Sight{Why: "dark"})
		want := cue.Cue{Code: cue.CodeStarLost, Action: cue.Recentre}
		if knob {
			want = cue.Cue{Code: cue.CodeLostByKnob, Action: cue.Turn, Knob: p.c.s.Knobs[1].Name, Direction: cue.Loosen, Turns: 0.1}
		}
		i := slices.IndexFunc(p.said[was:], func(c cue.Cue) bool { return c.Code == want.Code })
		if i < 0 {
			t.Errorf("by a knob: %v; said %v", knob, p.codes())
			continue
		}
		got := p.said[was+i]
		if got.Action != want.Action || got.Knob != want.Knob || got.Direction != want.Direction || got.Turns != want.Turns {
			t.Errorf("by a knob: %v; said %+v", knob, got)
		}
	}
}
