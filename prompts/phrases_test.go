package prompts

import (
	"strings"
	"testing"

	"golang.org/x/text/language"
)

func english(t *testing.T, v Verbosity) *Phrases {
	t.Helper()
	p, err := New(language.English, v)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The example of the outside contract, to the letter.
func TestContractExample(t *testing.T) {
	text, amount, err := english(t, Normal).Text(Cue{Code: "turn", Knob: "left-hand", Direction: "tighten", Turns: 0.06})
	if err != nil || text != "Left-hand knob, tighten slightly." || amount != "slightly" {
		t.Fatalf("got %q, %q, %v", text, amount, err)
	}
}

func TestWords(t *testing.T) {
	for _, c := range []struct {
		cue  Cue
		v    Verbosity
		want string
	}{
		{Cue{Code: "turn", Knob: "top", Direction: "loosen", Turns: 0.125}, Normal, "Top knob, loosen an eighth of a turn."},
		{Cue{Code: "turn", Knob: "Top Left", Direction: "loosen", Turns: 1.5}, Full, "Upper left knob, loosen one and a half turns, anticlockwise."},
		{Cue{Code: "turn", Knob: "one bump", Direction: "tighten", Turns: 4.2}, Normal, "One bump, tighten 4 turns."},
		{Cue{Code: "turn", Knob: "b", Direction: "tighten", Turns: 0.5}, Normal, "Knob B, tighten half a turn."},
		{Cue{Code: "turn", Knob: "custom", Direction: "tighten", Turns: 1}, Normal, "Custom, tighten one turn."},
		{Cue{Code: "too-far", Action: "turn", Knob: "top", Direction: "loosen", Turns: 0.25}, Normal, "Too far. Top knob, loosen a quarter turn."},
		{Cue{Code: "too-far", Action: "warn"}, Normal, "Too far."},
		{Cue{Code: "lock-pulls", Args: map[string]any{"name": "top"}}, Normal, "The top lock pulls the mirror."},
		{Cue{Code: "which-knob"}, Normal, "None now."},
		{Cue{Code: "wrong-knob", Action: "warn", Args: map[string]any{"moved": "right-hand"}}, Normal, "Stop. That is the right-hand knob."},
		{Cue{Code: "wrong-knob", Action: "warn"}, Normal, "Stop. Wrong knob."},
		{Cue{Code: "lock", Knob: "left-hand", Direction: "snug"}, Brief, "Left-hand lock, snug."},
		{Cue{Code: "lesson", Direction: "later"}, Normal, "Now we begin."},
		{Cue{Code: "status", Args: map[string]any{"ratio": 3.2}}, Normal, "3 times the tolerance."},
		{Cue{Code: "status"}, Normal, "I cannot tell yet."},
		{Cue{Code: "score", Args: map[string]any{"score": 60}}, Normal, "60"},
		{Cue{Code: "done", Result: "aligned", Args: map[string]any{"waves": 0.045, "ratio": 0.6}}, Normal,
			"Done. The mirror is true. One twentieth of a wave, better than the mirror needs."},
		{Cue{Code: "done", Result: "aligned", Args: map[string]any{"waves": 0.063, "ratio": 0.85}}, Normal,
			"Done. The mirror is true. One fifteenth of a wave, as good as the mirror needs."},
		{Cue{Code: "done", Result: "given-up", Args: map[string]any{"waves": 0.076, "ratio": 1.02}}, Normal,
			"I stop here. The mirror is not proved true. One thirteenth of a wave, and the mirror needs a little less."},
		{Cue{Code: "done", Result: "aligned"}, Normal, "Done. The mirror is true."},
		{Cue{Code: "done", Result: "as-good-as-the-air-allows", Args: map[string]any{"waves": 0.12, "ratio": 1.6}}, Normal,
			"Done. It is as true as the air allows tonight. One eighth of a wave, and the mirror needs one thirteenth of a wave."},
	} {
		got, _, err := english(t, c.v).Text(c.cue)
		if err != nil || got != c.want {
			t.Errorf("%+v: %q, %v; want %q", c.cue, got, err, c.want)
		}
	}
}

func TestUnknownIsAnError(t *testing.T) {
	for _, c := range []Cue{
		{Code: "no-such-code"},
		{Code: "turn", Knob: "top", Direction: "sideways", Turns: 1},
		{Code: "turn", Knob: "top", Direction: "tighten"},             // no amount
		{Code: "turn", Direction: "tighten", Turns: 0.1},              // no knob
		{Code: "turn", Knob: "top", Direction: "tighten", Turns: 1e9}, // nonsense
	} {
		if text, _, err := english(t, Normal).Text(c); err == nil {
			t.Errorf("%+v: said %q", c, text)
		}
	}
	if _, err := New(language.Japanese, Normal); err == nil || !strings.Contains(err.Error(), "choose one of en") {
		t.Errorf("Japanese: %v", err)
	}
}

// The words never say less than the error: the fraction is rounded up.
func TestFractionNeverFlatters(t *testing.T) {
	p := english(t, Normal)
	for waves, want := range map[float64]string{
		0.0501: "one fifteenth of a wave", 0.05: "one twentieth of a wave", 0.0001: "one hundredth of a wave",
		0.3: "one third of a wave", 0.9: "more than half a wave", 0.0746: "one thirteenth of a wave",
	} {
		if got, err := p.Fraction(waves); err != nil || got != want {
			t.Errorf("%g: %q, %v; want %q", waves, got, err, want)
		}
	}
}

// With full words a long look tells how long, where that is known.
func TestLongLookInFullWords(t *testing.T) {
	for v, want := range map[Verbosity]string{Full: "Measuring. Hands off. About 15 seconds.", Normal: "Measuring. Hands off.", Brief: "Measuring."} {
		p, err := New(language.English, v)
		if err != nil {
			t.Fatal(err)
		}
		if text, _, err := p.Text(Cue{Code: "measuring", Args: map[string]any{"seconds": 15.0}}); err != nil || text != want {
			t.Errorf("%q, %v", text, err)
		}
		if text, _, err := p.Text(Cue{Code: "measuring"}); err != nil || v == Full && text != "Measuring. Hands off." {
			t.Errorf("without a number: %q, %v", text, err)
		}
	}
}
