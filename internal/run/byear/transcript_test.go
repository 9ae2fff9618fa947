package byear

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/text/language"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/internal/cue"
	"halocue/internal/run"
	"halocue/internal/simulate/nights"
	"halocue/prompts"
)

// reader does what the lines say that the program prints, and knows nothing else of it.
type reader struct {
	meaning map[string]cue.Instruction
	do      func(cue.Instruction)
	log     []string
	acted   int
}

// aloud is how long a letter takes to be read, s.
const aloud = 0.06

func (r *reader) Write(line []byte) (int, error) {
	text := strings.TrimRight(string(line), "\n")
	r.log = append(r.log, text)
	var at float64
	if _, err := fmt.Sscan(text, &at); err != nil {
		return 0, err
	}
	_, words, _ := strings.Cut(strings.TrimSpace(text), "  ")
	if in, ok := r.meaning[words]; ok {
		in.Begin, in.End = at, at+aloud*float64(len(words))
		r.acted++
		r.do(in)
	}
	return len(line), nil
}

// meanings are the sentences that ask hands for something, in a language, by what they ask
// for. It fails where one sentence could mean two things.
func meanings(t *testing.T, p *prompts.Phrases, knobs []cue.Knob) map[string]cue.Instruction {
	t.Helper()
	all := map[string]cue.Instruction{}
	add := func(c cue.Cue) {
		for _, c.Full = range []bool{false, true} {
			text, _, err := p.Text(c)
			if err != nil {
				t.Fatal(err)
			}
			in := cue.Instruction{Action: c.Action, Knob: c.Knob, Direction: c.Direction, Turns: c.Turns, Back: c.Code == cue.CodeLostByKnob}
			if before, ok := all[text]; ok && before != in {
				t.Errorf("%q is both %+v and %+v", text, before, in)
			}
			all[text] = in
		}
	}
	for _, k := range knobs {
		for _, turns := range amounts {
			for _, code := range []string{cue.CodeTurn, cue.CodeTurnUndo, cue.CodeTooFar, cue.CodeNoMovement} {
				add(cue.Cue{Code: code, Action: "turn", Knob: k.Name, Direction: "tighten", Turns: turns})
				add(cue.Cue{Code: code, Action: "turn", Knob: k.Name, Direction: "loosen", Turns: turns})
			}
		}
		add(cue.Cue{Code: cue.CodeLock, Action: "lock", Knob: k.Name, Direction: "release"})
		add(cue.Cue{Code: cue.CodeLock, Action: "lock", Knob: k.Name, Direction: "snug"})
		add(cue.Cue{Code: cue.CodeWrongKnob, Action: "stop", Args: map[string]any{"moved": k.Name}})
	}
	for action, codes := range map[string][]string{
		"turn":     {cue.CodeLostByKnob},
		"stop":     {cue.CodeStop, cue.CodeWrongKnob, cue.CodeWrongWay},
		"recentre": {cue.CodeRecentre, cue.CodeRecentreOther, cue.CodeRecentreSame, cue.CodeRecentreSameHalf, cue.CodeRecentreOtherHalf, cue.CodeRecentrePast, cue.CodeStarLost},
	} {
		for _, code := range codes {
			add(cue.Cue{Code: code, Action: cue.Action(action)})
		}
	}
	add(cue.Cue{Code: cue.CodeOtherSide, Action: "other-side"})
	for _, direction := range []string{"more", "less"} {
		add(cue.Cue{Code: cue.CodeDefocus, Action: "defocus", Direction: direction})
	}
	for _, code := range []string{cue.CodeFocused, cue.CodeTwoRings, cue.CodeOverlit, cue.CodeNoShadow} {
		add(cue.Cue{Code: code, Action: "defocus", Direction: "more"})
	}
	return all
}

// Hands that do what the printed words of each other language say, and know nothing else,
// bring the mirror true.
func TestOtherLanguagesByTranscript(t *testing.T) {
	for i, spoken := range []string{"de", "es", "fr", "it", "nl", "pl", "pt", "sv"} {
		t.Run(spoken, func(t *testing.T) {
			n := nights.Draw(uint64(11+i), nights.DrawOptions{})
			s := newScope(n)
			parts := newParts(t, n, spoken)
			phrases, err := prompts.New(language.Make(spoken), prompts.Normal)
			if err != nil {
				t.Fatal(err)
			}
			r := &reader{meaning: meanings(t, phrases, n.Cell.Knobs), do: s.hands.Hear}
			parts.Source, parts.Meter, parts.Echo = s, s, r
			out, err := audio.NewFile(parts.Mixer, filepath.Join(t.TempDir(), "night.wav"))
			if err != nil {
				t.Fatal(err)
			}
			parts.Sink = out
			ended, err := run.Frames(context.Background(), parts, fps)
			if err != nil || out.Close() != nil {
				t.Fatal(err)
			}
			(&person{log: r.log, acted: r.acted}).judge(t, ended, r2.Norm(s.tel.Truth().Axis)/n.Telescope.Tolerance())
		})
	}
}
