package prompts

import (
	"slices"
	"testing"
)

func TestAhead(t *testing.T) {
	texts := english(t, Normal).Ahead("top", "left-hand", "right-hand")
	if texts[0][:7] != "Danger!" || !slices.Contains(texts[1:6], "Stop.") {
		t.Errorf("the most urgent come first: %q", texts[:6])
	}
	for _, want := range []string{
		"Left-hand knob, tighten slightly.", "Right-hand knob, loosen one and a half turns.",
		"Stop. That is the top knob.", "Star found.", "Done. The mirror is true.",
	} {
		if !slices.Contains(texts, want) {
			t.Errorf("%q is not spoken ahead", want)
		}
	}
	sorted := slices.Clone(texts)
	slices.Sort(sorted)
	if len(slices.Compact(sorted)) != len(texts) || len(texts) > 200 {
		t.Errorf("%d texts, some twice or too many", len(texts))
	}
}
