package nights

import (
	"fmt"

	"golang.org/x/text/language"

	"halocue/internal/coach"
	"halocue/prompts"
)

// Speech tells how long the words of a cue take: the real words, at the default
// speed of the voice.
type Speech struct{ phrases *prompts.Phrases }

// NewSpeech speaks the shipped English in its usual length.
func NewSpeech() (Speech, error) {
	p, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		return Speech{}, fmt.Errorf("preparing the words: %w", err)
	}
	return Speech{p}, nil
}

// Seconds returns the length of a cue's words: 0.15 s and 61 ms a letter, as
// espeak-ng speaks at 160 words a minute (prompts/voice.Length).
func (s Speech) Seconds(c coach.Cue) (float64, error) {
	text, _, err := s.phrases.Text(prompts.Cue{
		Code: c.Code, Action: string(c.Action), Knob: c.Knob, Direction: c.Direction,
		Turns: c.Turns, Result: c.Result, Args: c.Args,
	})
	if err != nil {
		return 0, fmt.Errorf("wording %q: %w", c.Code, err)
	}
	return 0.15 + 0.061*float64(len([]rune(text))), nil
}

// voice speaks cues one after the other.
type voice struct {
	queue []Said // not out yet
	free  float64
}

// speak speaks a cue as soon as the voice is free, or at once if it replaces what
// is being said.
func (v *voice) speak(c *coach.Coach, cue coach.Cue, t float64, words *Speech) (Said, error) {
	switch cue.Action {
	case coach.Stop, coach.Wait, coach.Turn, coach.Recentre:
		for _, q := range v.queue {
			c.Ended(q.ID, t)
		}
		v.queue, v.free = nil, t
	}
	took, err := words.Seconds(cue)
	if err != nil {
		return Said{}, err
	}
	s := Said{Begin: max(v.free, t), Cue: cue}
	s.End = s.Begin + took
	v.free = s.End
	c.Began(cue.ID, s.Begin)
	v.queue = append(v.queue, s)
	return s, nil
}

// listen tells the coach which words are out by time t.
func (v *voice) listen(c *coach.Coach, t float64) {
	for len(v.queue) > 0 && v.queue[0].End <= t {
		c.Ended(v.queue[0].ID, v.queue[0].End)
		v.queue = v.queue[1:]
	}
}
