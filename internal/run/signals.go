package run

import (
	"context"

	"halocue/audio"
	"halocue/internal/cue"
	"halocue/prompts"
)

// signals are the short sounds that go before the words. Who knows them understands sooner,
// and also without the words.
var signals = map[string]audio.Earcon{
	"star-lost":       audio.StarLost,
	"star-lost-knob":  audio.StarLost,
	"clouded":         audio.Clouded,
	"cleared":         audio.StarFound,
	"camera-lost":     audio.DeviceTrouble,
	"camera-stalled":  audio.DeviceTrouble,
	"no-camera":       audio.DeviceTrouble,
	"sound-lost":      audio.DeviceTrouble,
	"voice-lost":      audio.DeviceTrouble,
	"microphone-lost": audio.DeviceTrouble,
	"remote-lost":     audio.DeviceTrouble,
	"done":            audio.Finished,
	"rough-done":      audio.Finished,
}

// signalGap is the breath between a signal and its words, s. Without it a listener
// took the signal's end for a part of the first word.
const signalGap = 0.35

// announced are words that wait for the end of their signal.
type announced struct {
	*prompts.Utterance
	at float64 // when they begin
}

// start begins an utterance: with its signal, if it has one, else with its words.
func (n *night) start(ctx context.Context, t float64, u *prompts.Utterance) {
	e, ok := signals[u.Cue.Code]
	if !ok || u.Repeat || u.Cue.Result == cue.GivenUp {
		n.say(ctx, t, u)
		return
	}
	n.Mixer.Play(e)
	n.record(signalEvent{round(t, 6), "signal", e.String()})
	n.announced = &announced{u, t + e.Clip().Seconds() + signalGap}
}

// announce says what was announced, once its signal is over.
func (n *night) announce(ctx context.Context, t float64) {
	if a := n.announced; a != nil && t >= a.at-1e-9 {
		n.announced = nil
		n.say(ctx, t, a.Utterance)
	}
}

// forgo drops what was announced and never said.
func (n *night) forgo() {
	if n.announced != nil {
		n.Coach.Dropped(n.announced.Cue.ID)
		n.announced = nil
	}
}
