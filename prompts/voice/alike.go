package voice

import (
	"context"
	"fmt"
	"strings"
)

// Alike returns the pairs of names that an ear takes for each other in the wind, by the
// phonemes that espeak-ng gives them in a language.
func Alike(ctx context.Context, language string, names []string) (pairs [][2]string, err error) {
	sounds := make([][]rune, len(names))
	for i, name := range names {
		if sounds[i], err = phonemes(ctx, language, name); err != nil {
			return nil, err
		}
		for j, other := range names[:i] {
			if apart(sounds[i], sounds[j]) <= 1 {
				pairs = append(pairs, [2]string{other, name})
			}
		}
	}
	return pairs, nil
}

// phonemes are those of a text, a letter of the phonetic alphabet each, without stress and
// length.
func phonemes(ctx context.Context, language, text string) (all []rune, err error) {
	c := Command{Argv: []string{"espeak-ng", "-q", "--ipa", "-v", espeakVoices[language], "--stdin"}}
	out, err := c.run(ctx, text)
	if err != nil {
		return nil, fmt.Errorf("asking how %q sounds: %w; install espeak-ng", text, err)
	}
	for _, r := range string(out) {
		if kind(r) != "" {
			all = append(all, r)
		}
	}
	return all, nil
}

// kinds are the phonemes that wind and a small loudspeaker mix up.
var kinds = []string{vowels, "pbtdkɡcɟqʔ", "fvθðszʃʒçʝxɣχhɦɕʑʂʐβ", "mnŋɲɳ", "lɹrɾʁʎɫɭwjɥʋ"}

const vowels = "aeiouyæøœɐɑɒɔəɘɚɛɜɝɞɤɨɪɯɵɶʉʊʌʏ"

func kind(r rune) string {
	for _, k := range kinds {
		if strings.ContainsRune(k, r) {
			return k
		}
	}
	return ""
}

// apart counts what is heard to differ: one for each phoneme more, fewer or of another
// kind, half for each of the same kind and for a vowel more or fewer (judgement; Levenshtein).
func apart(a, b []rune) float64 {
	alone := func(r rune) float64 {
		if kind(r) == vowels {
			return 0.5
		}
		return 1
	}
	row := make([]float64, len(b)+1)
	for j, r := range b {
		row[j+1] = row[j] + alone(r)
	}
	for _, x := range a {
		diagonal := row[0]
		row[0] += alone(x)
		for j, y := range b {
			other := 1.0
			if kind(x) == kind(y) {
				other = 0.5
			}
			if x == y {
				other = 0
			}
			diagonal, row[j+1] = row[j+1], min(diagonal+other, row[j+1]+alone(x), row[j]+alone(y))
		}
	}
	return row[len(b)]
}
