package voice

import (
	"context"
	_ "embed"
	"fmt"
	"regexp"

	"github.com/pelletier/go-toml/v2"
)

//go:embed respell.toml
var respellings []byte

// Respelled is a voice that is given the words it mispronounces in another
// spelling: see respell.toml. The words that are written down stay as they are.
type Respelled struct {
	Voice Voice
	words map[string]string
}

// respell wraps a voice of a language ("en", "de", ...).
func respell(v Voice, language string) (Respelled, error) {
	var all map[string]map[string]string
	if err := toml.Unmarshal(respellings, &all); err != nil {
		return Respelled{}, fmt.Errorf("reading how words are pronounced: %w", err)
	}
	return Respelled{v, all[language]}, nil
}

// word is a run of letters, with the hyphens and apostrophes in it.
var word = regexp.MustCompile(`\p{L}+(?:['’-]\p{L}+)*`)

// Speak has the text spoken.
func (r Respelled) Speak(ctx context.Context, text string) (PCM, error) {
	return r.Voice.Speak(ctx, r.spell(text))
}

// Close ends the connections of the voice, if it has any.
func (r Respelled) Close() error {
	hangUp(r.Voice)
	return nil
}

func (r Respelled) spell(text string) string {
	return word.ReplaceAllStringFunc(text, func(w string) string {
		if s, ok := r.words[w]; ok {
			return s
		}
		return w
	})
}
