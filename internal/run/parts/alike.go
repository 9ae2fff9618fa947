package parts

import (
	"context"
	"strings"

	"halocue/config"
	"halocue/prompts"
	"halocue/prompts/voice"
)

// Alike returns the pairs among the knobs' names, and the word "stop", that sound alike. It
// needs espeak-ng for that, and returns none without it.
func Alike(ctx context.Context, v config.Voice, knobs []config.Knob) [][2]string {
	p, err := Phrases(v)
	if err != nil {
		return nil
	}
	stop, _, err := p.Text(prompts.Cue{Code: "stop"})
	if err != nil {
		return nil
	}
	names := []string{strings.ToLower(strings.Trim(stop, "."))}
	for _, k := range knobs {
		name, err := p.Told(k.Name)
		if err != nil {
			return nil
		}
		names = append(names, name)
	}
	pairs, _ := voice.Alike(ctx, v.Language, names)
	return pairs
}
