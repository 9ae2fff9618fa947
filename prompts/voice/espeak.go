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
	Slowest = 80
	Fastest = 450
)

// Espeak returns the voice of espeak-ng, executed for each text, in a language
// ("en", "de", ...) at a speed in words a minute, Slowest to Fastest.
func Espeak(language string, wpm float64) (Command, error) {
	name, ok := espeakVoices[language]
	if !ok {
		return Command{}, fmt.Errorf("no voice for the language %q; choose one of the languages that halocue speaks", language)
	}
	if wpm < Slowest || wpm > Fastest {
		return Command{}, fmt.Errorf("speed %g words a minute: choose %d to %d", wpm, Slowest, Fastest)
	}
	return Command{
		Argv:   []string{"espeak-ng", "-v", name, "-s", strconv.Itoa(int(wpm)), "--stdin", "--stdout"},
		Remedy: "install it (sudo apt install espeak-ng) or choose another voice",
	}, nil
}
