package voice

import (
	"fmt"
	"strconv"
)

// The espeak-ng voice of each language. American English is what listeners and
// recognisers understood best.
var espeakVoices = map[string]string{
	"en": "en-us", "de": "de", "fr": "fr", "es": "es", "it": "it",
	"pt": "pt", "nl": "nl", "pl": "pl", "sv": "sv",
}

// The slowest and the fastest speech, words a minute, that engines are asked for.
const (
	slowest = 80
	fastest = 450
)

// Espeak returns the voice of espeak-ng, executed for each text, in a language
// ("en", "de", ...) at a speed in words a minute, slowest to fastest.
func Espeak(language string, wpm float64) (Command, error) {
	name, ok := espeakVoices[language]
	if !ok {
		return Command{}, fmt.Errorf("no voice for the language %q; choose one of the languages that halocue speaks", language)
	}
	if wpm < slowest || wpm > fastest {
		return Command{}, fmt.Errorf("speed %g words a minute: choose %d to %d", wpm, slowest, fastest)
	}
	return Command{
		Argv:   []string{"espeak-ng", "-v", name, "-s", strconv.Itoa(int(wpm)), "--stdin", "--stdout"},
		Remedy: "install it (sudo apt install espeak-ng) or choose another voice",
	}, nil
}
