package session

import (
	"time"

	"halocue/config"
	"halocue/internal/run/parts"
	"halocue/internal/sky"
	"halocue/prompts"
)

// askedAgain is how soon the same question means "another one".
const askedAgain = 2 * time.Minute

// whichStar answers, while a night runs, which star to point at: the best, and when it
// is asked again at once, because a tree is in the way, the next.
func whichStar(c config.Config, now func() time.Time) func() prompts.Cue {
	next, last := 0, time.Time{}
	return func() prompts.Cue {
		t := now()
		cue := prompts.Cue{Code: "star"}
		switch {
		case !c.Site.Known():
			cue.Direction = "no-place"
			return cue
		case t.Year() < parts.ClockSince:
			cue.Direction = "no-clock"
			return cue
		}
		w := parts.Wish(c, t)
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
		return named(stars[next])
	}
}

// named is the cue that points at a star.
func named(s sky.Choice) prompts.Cue {
	return prompts.Cue{Code: "star", Direction: "named", Args: map[string]any{"star": s.Name, "azimuth": s.AzimuthDeg, "altitude": s.AltitudeDeg}}
}
