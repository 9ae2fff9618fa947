package prompts

import (
	"slices"
	"testing"
)

func TestAhead(t *testing.T) {
	knobs := []string{"top", "left-hand", "right-hand"}
	texts := english(t, Normal).Ahead(knobs, "drive-focus", "lock")
	first := []string{"Stop.", "Stop. Wrong way.", "Stop. That is the top knob.", "Centred.", "Left-hand knob, tighten slightly.",
		"Right-hand knob, loosen one and a half turns.", "Louder.", "Done. The mirror is true."}
	at := -1
	for i, want := range first {
		place := slices.Index(texts, want)
		if place < 0 || i > 2 && place < at {
			t.Errorf("%q is at place %d, and what is needed before it at %d", want, place, at)
		}
		at = max(at, place)
	}
	if at := slices.Index(texts, "Stop."); at > 8 {
		t.Errorf("Stop is at place %d", at)
	}
	for _, not := range []string{"Hands off. I move the focuser.", "Top lock, release.", "Two keys for each knob."} {
		if slices.Contains(texts, not) {
			t.Errorf("%q is spoken ahead, and cannot come", not)
		}
	}
	if !slices.Contains(english(t, Normal).Ahead(knobs), "Top lock, release.") {
		t.Error("locks have no words")
	}
	sorted := slices.Clone(texts)
	slices.Sort(sorted)
	if len(slices.Compact(sorted)) != len(texts) || len(texts) > 170 {
		t.Errorf("%d texts, some twice or too many", len(texts))
	}
}
