package session

import (
	"context"

	"halocue/config"
	"halocue/internal/journal"
	"halocue/internal/run/parts"
	"halocue/internal/sky"
)

// Next is the next sensible step for the person whose settings and journal these are, in
// the settings' language, or in locale where there are none; and where to find the rest.
func Next(ctx context.Context, w *parts.World, locale string) (step, more string, err error) {
	c, unusable := config.Load(config.Sources{Env: w.Env})
	if unusable != nil || c.File == "" {
		c.Voice.Language = locale
	}
	say, _, err := parts.Sentences(c.Voice)
	if err != nil {
		return "", "", err
	}
	more = say("next.all")
	if unusable != nil {
		return say("next.unusable", unusable), more, nil
	}
	if err := c.Validate(); c.File != "" && err != nil {
		return say("next.incomplete", err), more, nil
	} else if err != nil {
		return say("next.none"), more, nil
	}
	nights, interrupted, err := lastNight(ctx, journal.Path(w.Env), w.Now())
	light := sky.Brightness(parts.Wish(c, w.Now()).Site.Sun(w.Now()).AltitudeDeg)
	switch {
	case interrupted:
		return say("next.interrupted"), more, nil
	case err != nil || nights == 0: // a journal that cannot be read is none, and check says why
		return say("next.no-night"), more, nil
	case c.Site.Known() && light == sky.Day:
		return say("next.day"), more, nil
	}
	return say("next.evening"), more, nil
}
