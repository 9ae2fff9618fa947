package voice

import (
	"context"
	"strings"

	"halocue/audio"
)

// quoting is a voice that says in English what stands in English quotes: “okay halo, carry
// on” is what a person may say, and is understood in English only.
type quoting struct {
	Voice         // what has no quotes
	pieces  Voice // what stands around them, as samples
	english Voice // what stands in them; nil where all is English
}

// betweenTongues is the silence where the language changes, s.
const betweenTongues = 0.12

// unquoted takes the quotes from a text that is spoken as a whole.
var unquoted = strings.NewReplacer("“", "", "”", "")

// Speak has the pieces spoken, each in its language, one after the other.
func (q quoting) Speak(ctx context.Context, text string) (PCM, error) {
	if q.english == nil || !strings.Contains(text, "“") {
		return q.Voice.Speak(ctx, unquoted.Replace(text))
	}
	whole := PCM{Rate: audio.Rate, Ready: true, Kept: true}
	for text != "" {
		around, rest, _ := strings.Cut(text, "“")
		quote, after, _ := strings.Cut(rest, "”")
		text = after
		for _, piece := range []struct {
			Voice
			text string
		}{{q.pieces, around}, {q.english, quote}} {
			if strings.Trim(piece.text, " ,.;:") == "" {
				continue
			}
			pcm, err := piece.Speak(ctx, piece.text)
			if err == nil {
				pcm, err = pcm.ready()
			}
			if err != nil {
				return PCM{}, err
			}
			whole.Ready, whole.Kept = whole.Ready && pcm.Ready, whole.Kept && pcm.Kept
			if whole.Samples != nil {
				whole.Samples = append(whole.Samples, silence(betweenTongues).Samples...)
			}
			whole.Samples = append(whole.Samples, pcm.Samples...)
		}
	}
	return whole, nil
}

// Close ends the connections of the voice, if it has any.
func (q quoting) Close() error {
	hangUp(q.Voice)
	return nil
}
