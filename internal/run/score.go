package run

import (
	"math"

	"halocue/audio"
	"halocue/prompts"
)

// score is how the words-only mode tells how true the star is: in tens of per cent,
// when they change.
type score struct {
	said float64 // per cent; NaN: none since the tone was last off
	at   float64 // when, s
}

const (
	scoreEvery = 1.5 // s between two numbers: longer than one takes
	scoreStep  = 7   // per cent of change that are worth a number: a flicker between two tens is not
)

// tellScore says how true the mirror is as a number, if one is due and nothing else is to
// be said.
func (n *night) tellScore(t float64, tone audio.Tone) {
	m := n.Mixer.Mapping()
	if m.Mode != audio.WordsOnly {
		return
	}
	if tone.State == audio.Off || tone.State == audio.Stop {
		n.score.said = math.NaN()
		return
	}
	now := 100 * m.Progress(tone)
	if math.Abs(now-n.score.said) < scoreStep || t-n.score.at < scoreEvery || !n.Narrator.Idle() {
		return
	}
	n.score = score{said: now, at: t}
	n.note(n.Narrator.Add(t, prompts.Cue{Code: "score", Args: map[string]any{"score": 10 * int(math.Round(now/10))}}))
}
