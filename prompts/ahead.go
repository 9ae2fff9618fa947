package prompts

import (
	"slices"
	"strings"

	"halocue/internal/cue"
)

// Ahead lists the texts to be spoken into clips before they are needed, for a mirror with
// these knobs (the config's names): everything whose words do not depend on a measurement,
// save what is not said by night and the codes that never come tonight. First is what may
// come at any moment, then what the first minutes bring, and what ends a night is last.
// Amounts go up to one and a half turns.
func (p *Phrases) Ahead(knobs []string, never ...string) []string {
	var cues []Cue
	for _, code := range Codes() {
		if slices.ContainsFunc(indoorsEntries, func(e Entry) bool { return e.Code == code }) || code == "lesson" || code == "daylight" || strings.HasPrefix(code, "practice-") || slices.Contains(never, code) {
			continue
		}
		cues = append(cues, usualCues(catalogue[code], knobs)...)
	}
	slices.SortStableFunc(cues, func(a, b Cue) int { return wait(a) - wait(b) })
	var texts []string
	have := map[string]bool{}
	for _, c := range cues {
		text, _, err := p.Text(c)
		if err == nil && !have[text] { // an error: it needs facts, and is spoken when they are there
			have[text] = true
			texts = append(texts, text)
		}
	}
	return texts
}

// opening are the codes that a night begins with, beside the instructions.
var opening = []string{"cautions", "welcome", "starting", "resuming", "measuring", "centred"}

// wait says how late in a night the cue is likely to come.
func wait(c Cue) int {
	switch e := catalogue[c.Code]; {
	case e.Action == cue.Done:
		return 5
	case e.Class >= Halt:
		return 0
	case c.Code == "turn" && c.Turns > 0.5: // of a mirror that is far off
		return 3
	case c.Code == "turn":
		return 2
	case e.Class == Instruct || slices.Contains(opening, c.Code):
		return 1
	default:
		return 4
	}
}

// usualCues are the cues of an entry, with each of the knobs where one belongs.
func usualCues(e *Entry, knobs []string) (cues []Cue) {
	variants := e.Variants
	if variants == nil {
		variants = []string{""}
	}
	for _, variant := range variants {
		c := Cue{Code: e.Code, Direction: variant}
		if e.Action == cue.Done {
			c = Cue{Code: e.Code, Result: variant}
		}
		if e.Action != cue.Lock && e.Code != "turn" && e.Code != "wrong-knob" {
			cues = append(cues, c)
			continue
		}
		for _, knob := range knobs {
			c.Knob, c.Args = knob, map[string]any{"moved": knob}
			if e.Code != "turn" {
				cues = append(cues, c)
				continue
			}
			for _, a := range amounts[:10] {
				c.Turns = a.upTo
				cues = append(cues, c)
			}
		}
	}
	return cues
}
