package parts

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"golang.org/x/text/language"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/audio/ears"
	"halocue/config"
	"halocue/internal/run"
	"halocue/prompts"
	"halocue/prompts/voice"
)

// Voice makes the voice that the settings name. If it fails, an event says so, and another
// voice takes its place.
func Voice(c config.Voice, events chan<- run.DeviceEvent) (voice.Voice, error) {
	return voice.New(VoiceSettings(c, func(err error) {
		Tell(events, run.DeviceEvent{Device: "voice", State: "lost", Detail: err.Error(), Code: "voice-lost", On: true})
	}))
}

// VoiceSettings are those of a voice whose failures go to report.
func VoiceSettings(c config.Voice, report func(error)) voice.Config {
	return voice.Config{Engine: c.Engine, Command: strings.Fields(c.Command), Language: c.Language, WPM: c.SpeedWPM, Cache: c.Cache, Report: report}
}

// Tell sends an event, or drops it when the channel is full.
func Tell(events chan<- run.DeviceEvent, e run.DeviceEvent) {
	select {
	case events <- e:
	default:
	}
}

// verbosities are the settings' names for how many words a cue is given.
var verbosities = map[string]prompts.Verbosity{"short": prompts.Brief, "normal": prompts.Normal, "full": prompts.Full}

// Phrases makes the words of the settings' language.
func Phrases(c config.Voice) (*prompts.Phrases, error) {
	tag, err := language.Parse(c.Language)
	if err != nil {
		return nil, fmt.Errorf("language %q: %w; choose one that halocue speaks", c.Language, err)
	}
	return prompts.New(tag, verbosities[c.Verbosity])
}

// Say gives a sentence of a tool, by its key, filled in.
type Say = func(key string, args ...any) string

// Sentences are what the tools say, in the settings' language, and in English for what
// programs read.
func Sentences(c config.Voice) (local, english Say, err error) {
	own, err := prompts.NewSentences(c.Language)
	if err != nil {
		return nil, nil, err
	}
	en, err := prompts.NewSentences("en")
	if err != nil {
		return nil, nil, err
	}
	return own.Say, en.Say, nil
}

// Mixer makes the mixer for the settings.
func Mixer(c config.Sound) (*audio.Mixer, error) {
	mode, err := audio.ParseMode(c.Mode)
	if err != nil {
		return nil, err
	}
	wave, err := audio.ParseWaveform(c.Waveform)
	if err != nil {
		return nil, err
	}
	return audio.NewMixer(audio.Settings{
		Mapping: audio.Mapping{Mode: mode, Wave: wave, Low: c.LowestHZ, High: c.HighestHZ, Curve: c.Curve, Reference: c.Reference},
		Volume:  audio.VolumeDB(c.Volume),
	}), nil
}

// OpenSink opens what the mixer is played on: default, none or FILE.wav.
func OpenSink(ctx context.Context, c config.Sound, d *audio.Mixer, events chan<- run.DeviceEvent) (audio.Sink, error) {
	switch {
	case c.Output == "none":
		return audio.NewNull(d), nil
	case strings.HasSuffix(strings.ToLower(c.Output), ".wav"):
		return audio.NewFile(d, c.Output)
	}
	name := c.Output
	if name == "default" {
		name = ""
	}
	return device.Open(device.Config{
		Mixer: d, Output: name, Microphone: c.Microphone, ExtraDelay: time.Duration(c.DelayMS * float64(time.Millisecond)),
		Events: func(e device.Event) { Tell(events, soundEvent(e)) },
	})
}

func soundEvent(e device.Event) run.DeviceEvent {
	out := run.DeviceEvent{Device: "sound", State: string(e.Kind), Detail: e.Detail}
	switch e.Kind {
	case device.Lost, device.Hung:
		out.Code, out.On = "sound-lost", true
	case device.Back:
		out.Code = "sound-lost"
	case device.NoMic:
		return Deaf(errors.New(e.Detail))
	case device.UnderRun:
		out.Detail = fmt.Sprintf("%d under-runs so far", e.Count)
	}
	return out
}

// Deaf is the event of a microphone that is of no use.
func Deaf(err error) run.DeviceEvent {
	return run.DeviceEvent{Device: "microphone", State: "lost", Detail: fmt.Sprint(err), Code: "microphone-lost", On: true}
}

// RecordableVoice is the settings with espeak-ng in place of speech-dispatcher where the
// sound goes into a file or nowhere, or runs by the frame clock: speech-dispatcher plays by
// itself and cannot be recorded.
func RecordableVoice(w *World, c config.Config, frames bool) config.Config {
	file := strings.HasSuffix(strings.ToLower(c.Sound.Output), ".wav")
	if c.Voice.Engine == "speech-dispatcher" && (frames || file || c.Sound.Output == "none") {
		c.Voice.Engine = "espeak-ng"
		fmt.Fprintln(w.Stderr, "halocue: speech-dispatcher cannot be recorded; espeak-ng speaks in its place")
	}
	return c
}

// Ears is what a microphone must know of a card that plays the mixer.
func Ears(card *device.Card, m *audio.Mixer) ears.Config {
	return ears.Config{
		Delay:  card.Delay() + inDelay,
		Attend: m.Attend,
		Own: func() (own ears.Own) {
			own.Speaking, own.Hz = m.Sounding()
			return own
		},
	}
}

// inDelay is how long a sample takes from the air into the program, s: a buffer
// of the sound system and one of PortAudio.
const inDelay = 0.04
