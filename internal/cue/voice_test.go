package cue

import "testing"

// Each cue has a number of its own, and the coach is silent until its words are out.
func TestVoiceIsBusyUntilTheWordsAreOut(t *testing.T) {
	v := NewVoice(15)
	first, second := Cue{Code: "a", Action: Tell}, Cue{Code: "b", Action: Tell}
	v.Emit(&first, 1)
	v.Emit(&second, 1)
	if first.ID == second.ID || !v.Busy() {
		t.Fatalf("numbers %d and %d, busy %v", first.ID, second.ID, v.Busy())
	}
	if got, ok := v.Began(second.ID, 2); !ok || got.Code != "b" {
		t.Errorf("what began is %+v, %v", got, ok)
	}
	if got, ok := v.Ended(second.ID); !ok || got.Code != "b" || !v.Busy() {
		t.Errorf("what ended is %+v, %v; busy %v", got, ok, v.Busy())
	}
	if _, ok := v.Ended(second.ID); ok {
		t.Error("it ended twice")
	}
	if _, ok := v.Began(second.ID, 3); ok {
		t.Error("it began after its end")
	}
	if v.Ended(first.ID); v.Busy() {
		t.Error("busy with nothing")
	}
	if v.Others = true; !v.Busy() {
		t.Error("others speak, and it is not busy")
	}
}

// What asks for another turn, or stops the hand, drops what was about to be said; a remark
// does not.
func TestVoiceDropsWhatIsReplaced(t *testing.T) {
	for action, drops := range map[Action]bool{Stop: true, Wait: true, Turn: true, Recentre: true, HalfTurn: true, Tell: false} {
		v := NewVoice(15)
		old, next := Cue{Action: Turn}, Cue{Action: action}
		v.Emit(&old, 1)
		v.Emit(&next, 2)
		if _, ok := v.Began(old.ID, 3); ok == drops {
			t.Errorf("%v: the cue before is still to be said: %v", action, ok)
		}
		if _, ok := v.Began(next.ID, 3); !ok {
			t.Errorf("%v is not to be said itself", action)
		}
	}
}

// Whoever never says that the words are out does not silence the coach: they count as out
// when they have taken as long as words can, from their begin if that was said.
func TestVoiceExpires(t *testing.T) {
	v := NewVoice(15)
	c := Cue{Action: Tell}
	v.Emit(&c, 10)
	v.Expire(25)
	if !v.Busy() {
		t.Error("out after the longest time that words take")
	}
	v.Began(c.ID, 20)
	v.Expire(34)
	if !v.Busy() {
		t.Error("out 14 s after its begin")
	}
	if v.Expire(36); v.Busy() {
		t.Error("not out 16 s after its begin")
	}
}
