// Package aloud says lines, plays sounds and holds conversations, each by itself: all
// that is heard outside of a night, and before one begins.
package aloud

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"time"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/run"
	"halocue/internal/run/parts"
	"halocue/prompts/voice"
)

// Out is a voice and what it is heard on.
type Out struct {
	Mixer *audio.Mixer
	Sink  audio.Sink
	// NoVoice is why the voice of the settings is not heard, or nil.
	NoVoice error

	speaker *voice.Speaker
	events  chan run.DeviceEvent
	timed   bool // the sink has a clock of its own
	heard   config.Config
}

// Open opens the sound of the settings and their voice, which speaks the language
// ("" is English). Where the sound cannot be had, the error says why, and what is
// said makes no sound.
func Open(ctx context.Context, c config.Config, language string) (*Out, error) {
	if c.Sound.Output == "" { // settings that could not be read
		c.Sound, c.Voice = config.Default().Sound, config.Default().Voice
	}
	events := make(chan run.DeviceEvent, 64)
	var sink audio.Sink
	mixer, err := parts.Mixer(c.Sound)
	if err == nil {
		sink, err = parts.OpenSink(ctx, c.Sound, mixer, events)
	}
	if err != nil {
		mixer = audio.NewMixer(audio.Settings{})
		sink = audio.NewNull(mixer)
	}
	c.Voice.Language = cmp.Or(language, "en")
	v, failed := parts.Voice(c.Voice, events)
	if failed != nil {
		v = voice.Silent{WPM: config.Default().Voice.SpeedWPM}
	}
	o := With(mixer, sink, v)
	o.NoVoice, o.events, o.heard = failed, events, c
	if err != nil || failed != nil {
		o.heard.Sound.Output = "none"
	}
	switch sink.(type) {
	case *audio.Null, *audio.File:
	default:
		o.timed = true
	}
	return o, err
}

// With is a voice that is heard on a sink without a clock.
func With(m *audio.Mixer, s audio.Sink, v voice.Voice) *Out {
	return &Out{Mixer: m, Sink: s, speaker: voice.NewSpeaker(v)}
}

// Shown returns where to print what is also said: see parts.World. What cannot be heard is
// always printed.
func (o *Out) Shown(w *parts.World, to io.Writer) io.Writer { return w.Shown(o.heard, to) }

// Live reports whether the sound is played as time passes, so that somebody may hear it.
func (o *Out) Live() bool { return o.timed }

// Card returns the sound card that it is heard on, nil for none.
func (o *Out) Card() *device.Card {
	card, _ := o.Sink.(*device.Card)
	return card
}

// Begin begins a text, and returns how long it takes, s.
func (o *Out) Begin(ctx context.Context, text string) (seconds float64, err error) {
	clip, err := o.speaker.Clip(ctx, text)
	if err != nil {
		return 0, fmt.Errorf("saying %q: %w; --voice none goes without words", text, err)
	}
	o.Mixer.Say(clip)
	return clip.Seconds(), nil
}

// Say says a text to its end.
func (o *Out) Say(ctx context.Context, text string) error {
	seconds, err := o.Begin(ctx, text)
	if err != nil {
		return err
	}
	seconds += o.Sink.Delay()
	if err := o.Sink.Advance(seconds); err != nil {
		return err
	}
	if !o.timed {
		return nil
	}
	select {
	case <-time.After(time.Duration(seconds * float64(time.Second))):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// SayEnglish says a text that exists in English only, such as an error, with an English
// voice, and keeps that voice from then on.
func (o *Out) SayEnglish(ctx context.Context, text string) error {
	if c := o.heard.Voice; c.Language != "en" {
		c.Language = "en"
		if err := o.Use(c); err != nil {
			return err
		}
		o.heard.Voice = c
	}
	return o.Say(ctx, text)
}

// Gap is the silence after words and after a sound, s.
const Gap = 0.6

// Play plays a sound to its end.
func (o *Out) Play(ctx context.Context, s audio.Sound) error {
	return o.Pass(ctx, s.Seconds+Gap, func(at float64) { s.At(o.Mixer, at) })
}

// Pass lets time go by in steps of a tenth of a second, and calls each before every step,
// with the seconds since the start.
func (o *Out) Pass(ctx context.Context, seconds float64, each func(at float64)) error {
	const step = 0.1
	for at := 0.0; at < seconds; at += step {
		each(at)
		if err := o.Sink.Advance(step); err != nil {
			return err
		}
		if !o.timed {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			continue
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Duration(step * float64(time.Second))):
		}
	}
	return ctx.Err()
}

// Trouble returns what has failed in sound or voice since it was last asked; nil for
// nothing.
func (o *Out) Trouble() error {
	select {
	case e := <-o.events:
		if e.On {
			return fmt.Errorf("%s: %s", e.Device, e.Detail)
		}
	default:
	}
	return nil
}

// Use changes to the voice of other settings. If that cannot be opened, the present voice
// stays.
func (o *Out) Use(c config.Voice) error {
	v, err := parts.Voice(c, o.events)
	if err == nil {
		o.speaker.Use(v)
	}
	return err
}

// Close ends what is being said.
func (o *Out) Close() error {
	defer o.speaker.Close()
	return o.Sink.Close()
}
