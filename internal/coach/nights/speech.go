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
