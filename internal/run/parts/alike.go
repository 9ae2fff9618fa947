package parts

import (
	"context"
	"strings"

	"halocue/config"
	"halocue/prompts"
	"halocue/prompts/voice"
)

// Alike are the pairs of knobs' names, as they are said, that an ear takes for each other or
// for the word that stops. There are none where espeak-ng, which alone can tell, is missing.
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
