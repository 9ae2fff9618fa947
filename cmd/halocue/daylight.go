package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/guide"
	"halocue/internal/sky"
	"halocue/prompts"
)

// daylightAgain is how soon the caution is said again while nobody answers it.
const daylightAgain = 30 * time.Second

// byDay tells whether the Sun is up, as far as place and time are known.
func byDay(c config.Config, now time.Time) bool {
	if !c.Site.Known() || now.Year() < clockSince {
		return false
	}
	site := sky.Site{LatitudeDeg: c.Site.LatitudeDeg, LongitudeDeg: c.Site.LongitudeDeg}
	return sky.Brightness(site.Sun(now).AltitudeDeg) == sky.Day
}

// daylight says that the Sun is up, again and again, until the person wants to
// begin all the same and says so; it is an error where nobody can.
func (a *app) daylight(ctx context.Context, c config.Config, commands <-chan coach.Command, events chan guide.DeviceEvent) error {
	if commands == nil {
		return errors.New("the Sun is up; never point near it; wait for the dusk, or give --by-day if you must")
	}
	phrases, err := newPhrases(c.Voice)
	if err != nil {
		return err
	}
	text, _, err := phrases.Text(prompts.Cue{Code: "daylight"})
	if err != nil {
		return err
	}
	k := &checking{app: a, c: c, language: c.Voice.Language}
	if err := k.openSound(ctx); err != nil {
		return errors.Join(err, k.sink.Close())
	}
	defer k.sink.Close()
	if card, ok := k.sink.(*device.Card); ok && c.Sound.Microphone {
		spoken, deafen := listen(ctx, card, k.desk, commands, events)
		defer deafen()
		commands = spoken
	}
	for {
		fmt.Fprintln(a.stdout, text)
		if err := k.say(ctx, text); err != nil {
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
