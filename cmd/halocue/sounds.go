package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/guide"
	"halocue/prompts/voice"
)

func newSoundsCommand(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "sounds [NAME]...",
		Short: "Hear and learn every sound by its name",
		Long: `Names each sound and plays it: what the tone does, then the short signals. Each
is named aloud, in English, and printed as it begins. Give names to hear only
those, as often and in the order in which you give them.

Keep one ear free for what happens around you, and begin softly.`,
		Example: "halocue sounds\nhalocue sounds star-lost star-found\nhalocue sounds --sound sounds.wav",
		RunE: func(cmd *cobra.Command, names []string) error {
			chosen, err := chosenSounds(names)
			if err != nil {
				return usageError{err}
			}
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.sounds(cmd.Context(), c, chosen)
		},
	}
	settingFlags(cmd, "sound", "voice")
	return cmd
}

// chosenSounds are those with the names, or all where none is given.
func chosenSounds(names []string) ([]audio.Sound, error) {
	all := audio.Sounds()
	if len(names) == 0 {
		return all, nil
	}
	byName, known := map[string]audio.Sound{}, make([]string, len(all))
	for i, s := range all {
		byName[s.Code], known[i] = s, s.Code
	}
	var chosen []audio.Sound
	for _, name := range names {
		s, ok := byName[name]
		if !ok {
			return nil, fmt.Errorf("there is no sound %q; there are: %s", name, strings.Join(known, ", "))
		}
		chosen = append(chosen, s)
	}
	return chosen, nil
}

// sounds names and plays the sounds, one after the other.
func (a *app) sounds(ctx context.Context, c config.Config, chosen []audio.Sound) (err error) {
	desk, err := newDesk(c.Sound)
	if err != nil {
		return err
	}
	events := make(chan guide.DeviceEvent, 64)
	sink, err := openSink(ctx, c.Sound, desk, events)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, sink.Close()) }()
	c = a.mixed(c, false)
	c.Voice.Language = "en" // what is heard is described in English only
	v, err := newVoice(c.Voice, events)
	if err != nil {
		return err
	}
	speaker := voice.NewSpeaker(v)
	defer speaker.Close()
	_, live := sink.(*device.Card)
	show := exhibit{desk: desk, sink: sink, speaker: speaker, live: live}
	for _, s := range chosen {
		fmt.Fprintf(a.stdout, "%s: %s\n", s.Code, s.Heard)
		if err := show.one(ctx, s); err != nil {
			return err
		}
		select {
		case e := <-events:
			if e.On {
				fmt.Fprintf(a.stderr, "halocue: %s: %s\n", e.Device, e.Detail)
			}
		default:
		}
	}
	return nil
}

// exhibit plays sounds by themselves.
type exhibit struct {
	desk    *audio.Desk
	sink    audio.Sink
	speaker *voice.Speaker
	live    bool // the sink has a clock of its own
}

// soundGap is the silence around each sound, s.
const soundGap = 0.6

// one says what the sound is, and plays it.
func (x exhibit) one(ctx context.Context, s audio.Sound) error {
	text := strings.ReplaceAll(s.Code, "-", " ") + ". " + s.Heard + "."
	clip, err := x.speaker.Clip(ctx, text)
	if err != nil {
		return fmt.Errorf("naming %s: %w; --voice none plays the sounds alone", s.Code, err)
	}
	x.desk.Say(clip)
	if err := x.pass(ctx, clip.Seconds()+soundGap, func(float64) {}); err != nil {
		return err
	}
	return x.pass(ctx, s.Seconds+soundGap, func(at float64) { s.At(x.desk, at) })
}

// pass lets time go by in steps of a tenth of a second.
func (x exhibit) pass(ctx context.Context, seconds float64, each func(at float64)) error {
	const step = 0.1
	for at := 0.0; at < seconds; at += step {
		each(at)
		if err := x.sink.Advance(step); err != nil {
			return err
		}
		if !x.live {
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
