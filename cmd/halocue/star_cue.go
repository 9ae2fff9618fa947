package main

import (
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
		cue.Direction = "named"
		cue.Args = map[string]any{"star": s.Name, "azimuth": s.AzimuthDeg, "altitude": s.AltitudeDeg}
		return cue
	}
}
