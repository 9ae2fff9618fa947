package main

import (
	"context"
	"fmt"
	"time"

	"halocue/config"
	"halocue/internal/sky"
	"halocue/prompts"
)

// askedAgain is how soon the same question means "another one".
const askedAgain = 2 * time.Minute

// whichStar answers, while guide runs, which star to point at: the best, and when it
// is asked again at once, because a tree is in the way, the next. The mount is taken
// to follow the sky where the settings name one that moves.
func whichStar(c config.Config, now func() time.Time) func() prompts.Cue {
	next, last := 0, time.Time{}
	return func() prompts.Cue {
		t := now()
		cue := prompts.Cue{Code: "star"}
		switch {
		case !c.Site.Known():
			cue.Direction = "no-place"
			return cue
		case t.Year() < clockSince:
			cue.Direction = "no-clock"
			return cue
		}
		w := sky.Wish{
			Site: sky.Site{LatitudeDeg: c.Site.LatitudeDeg, LongitudeDeg: c.Site.LongitudeDeg},
			At:   t, RoofDeg: c.Site.RoofLineDeg, ApertureMM: c.Telescope.ApertureMM, Tracking: c.Drive.Mount != "",
		}
		if sky.Brightness(w.Site.Sun(t).AltitudeDeg) == sky.Day {
			cue.Direction = "sun-up"
			return cue
		}
		stars := sky.Choose(w)
		if len(stars) == 0 {
			cue.Direction = "none"
			return cue
		}
		if next++; t.Sub(last) > askedAgain || next >= len(stars) {
			next = 0
		}
		last = t
		s := stars[next]
		return named(s)
	}
}

// named is the cue that points at a star.
func named(s sky.Choice) prompts.Cue {
	return prompts.Cue{Code: "star", Direction: "named", Args: map[string]any{"star": s.Name, "azimuth": s.AzimuthDeg, "altitude": s.AltitudeDeg}}
}

// point says where a star stands, in the words and the language of guide. Where there
// is no sound it has been printed.
func (a *app) point(ctx context.Context, c config.Config, s sky.Choice) error {
	phrases, err := newPhrases(c.Voice)
	if err != nil {
		return err
	}
	text, _, err := phrases.Text(named(s))
	if err != nil {
		return err
	}
	k := &checking{app: a, c: c, language: c.Voice.Language}
	err = k.openSound(ctx)
	defer k.sink.Close()
	if err != nil {
		fmt.Fprintf(a.stderr, "halocue: %v; the star is printed, not spoken\n", err)
		return nil
	}
	return k.say(ctx, text)
}
