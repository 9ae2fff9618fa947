package prompts

import "sort"

// Ahead lists the texts worth having spoken before they are needed, the most
// urgent first, for a mirror with these knobs (the config's names): everything
// whose words do not depend on a measurement, but for what is said by day. Amounts go up to one and a half turns.
func (p *Phrases) Ahead(knobs ...string) []string {
	var cues []Cue
	for _, code := range Codes() {
		if byDay(code) || code == "lesson" {
			continue
		}
		cues = append(cues, usualCues(catalogue[code], knobs)...)
	}
	sort.SliceStable(cues, func(i, j int) bool {
		return catalogue[cues[i].Code].Class > catalogue[cues[j].Code].Class
	})
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

// usualCues are the cues of an entry, with each of the knobs where one belongs.
func usualCues(e *Entry, knobs []string) (cues []Cue) {
	variants := e.Variants
	if variants == nil {
		variants = []string{""}
	}
	for _, variant := range variants {
		c := Cue{Code: e.Code, Direction: variant}
		if e.Action == "done" {
			c = Cue{Code: e.Code, Result: variant}
		}
		switch {
		case e.Code == "turn":
			for _, knob := range knobs {
				for _, a := range amounts[:10] {
					c.Knob, c.Turns = knob, a.upTo
					cues = append(cues, c)
				}
			}
		case e.Action == "lock":
			for _, knob := range knobs {
				c.Knob = knob
				cues = append(cues, c)
			}
		case e.Code == "wrong-knob":
			for _, knob := range knobs {
				c.Args = map[string]any{"moved": knob}
				cues = append(cues, c)
			}
		default:
			cues = append(cues, c)
		}
	}
	return cues
}
