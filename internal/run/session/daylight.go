package session

import (
	"context"
	"errors"
	"fmt"
	"time"

	"halocue/audio/command"
	"halocue/config"
	"halocue/internal/run"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/internal/sky"
	"halocue/prompts"
)

// daylightAgain is how soon the caution is said again while nobody answers it.
const daylightAgain = 30 * time.Second

// byDay reports whether the Sun is up, as far as place and time are known.
func byDay(c config.Config, now time.Time) bool {
	if !c.Site.Known() || now.Year() < parts.ClockSince {
		return false
	}
	return sky.Brightness(parts.Wish(c, now).Site.Sun(now).AltitudeDeg) == sky.Day
}

// daylight says that the Sun is up, again and again, until the person wants to
// begin all the same and says so; it is an error where nobody can.
func daylight(ctx context.Context, w *parts.World, c config.Config, commands <-chan command.Command, events chan run.DeviceEvent) error {
	if commands == nil {
		return errors.New("the Sun is up; never point near it; wait for the dusk, or give --by-day if you must")
	}
	phrases, err := parts.Phrases(c.Voice)
	if err != nil {
		return err
	}
	text, _, err := phrases.Text(prompts.Cue{Code: "daylight"})
	if err != nil {
		return err
	}
	out, err := aloud.Open(ctx, c, c.Voice.Language)
	if err != nil {
		return errors.Join(err, out.Close())
	}
	defer out.Close()
	if card := out.Card(); card != nil && c.Sound.Microphone {
		spoken, deafen := listen(ctx, card, out.Mixer, commands, events)
		defer deafen()
		commands = spoken
	}
	for {
		fmt.Fprintln(w.Shown(c, w.Stdout), text)
		if err := out.Say(ctx, text); err != nil {
			return err
		}
		again, stop := context.WithTimeout(ctx, daylightAgain)
		answered := another(again, commands)
		stop()
		if answered || ctx.Err() != nil {
			return ctx.Err()
		}
	}
}
