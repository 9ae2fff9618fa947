package nights

import (
	"fmt"
	"slices"

	"golang.org/x/text/language"

	"halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/prompts"
)

// Speech calculates how long the words of a cue take: the real words, at the default
// speed of the voice.
type Speech struct{ phrases *prompts.Phrases }

// newSpeech speaks the shipped English in its usual length.
func newSpeech() (Speech, error) {
	p, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		return Speech{}, fmt.Errorf("preparing the words: %w", err)
	}
	return Speech{p}, nil
}

// Seconds returns the length of a cue's words: 0.15 s and 61 ms a letter, as
// espeak-ng speaks at 160 words a minute (prompts/voice.Length).
func (s Speech) Seconds(c cue.Cue) (float64, error) {
	text, _, err := s.phrases.Text(c)
	if err != nil {
		return 0, fmt.Errorf("wording %q: %w", c.Code, err)
	}
	return 0.15 + 0.061*float64(len([]rune(text))), nil
}

// kinds lists the cues that somebody has heard who has heard all (coach.Memory.Heard).
func kinds() (all []string) {
	for _, code := range prompts.Codes() {
		all = append(all, code)
		for _, d := range []string{cue.Tighten, cue.Loosen, cue.More, cue.Less, cue.Release, cue.Snug} {
			all = append(all, code+"."+d)
		}
	}
	return all
}

// voice speaks cues one after the other.
type voice struct {
	queue []Said // not ended yet
	begun bool   // the first of them
	free  float64
}

// speak speaks a cue as soon as the voice is free, or at once if it replaces what
// is being said.
func (v *voice) speak(c *night.Coach, say cue.Cue, t float64, words *Speech) (Said, error) {
	switch say.Action {
	case cue.Stop, cue.Wait, cue.Turn, cue.Recentre:
		preface := slices.IndexFunc(v.queue, func(q Said) bool { return q.given == t }) // comes with it, and goes before it
		if preface < 0 {
			preface = len(v.queue)
		}
		for _, q := range v.queue[:preface] {
			c.Ended(q.ID, t)
		}
		if preface > 0 {
			v.queue, v.begun, v.free = v.queue[preface:], false, t
		}
	}
	took, err := words.Seconds(say)
	if err != nil {
		return Said{}, err
	}
	s := Said{Begin: max(v.free, t), Cue: say, given: t}
	s.End = s.Begin + took
	v.free = s.End
	v.queue = append(v.queue, s)
	v.begin(c, t)
	return s, nil
}

// listen reports to the coach which words have ended by time t, and which have begun.
func (v *voice) listen(c *night.Coach, t float64) {
	for len(v.queue) > 0 && v.queue[0].End <= t {
		v.begin(c, t)
		c.Ended(v.queue[0].ID, v.queue[0].End)
		v.queue, v.begun = v.queue[1:], false
	}
	v.begin(c, t)
}

// begin reports to the coach that the first of the queue has begun, if it has.
func (v *voice) begin(c *night.Coach, t float64) {
	if !v.begun && len(v.queue) > 0 && v.queue[0].Begin <= t {
		v.begun = true
		c.Began(v.queue[0].ID, v.queue[0].Begin)
	}
}
