package sky

import "time"

// Light is how bright the sky is.
type Light int

// From the brightest: the Sun up; civil twilight; nautical twilight; darker.
const (
	Day Light = iota
	Twilight
	Dusk
	Night
)

// Brightness returns the light of the sky for the Sun's apparent altitude,
// degrees: its upper edge on the horizon, and 6 and 12 degrees below, the ends of
// civil and nautical twilight.
func Brightness(sunDeg float64) Light {
	const radius = 16.0 / 60 // of the Sun
	switch {
	case sunDeg > -radius:
		return Day
	case sunDeg > -6:
		return Twilight
	case sunDeg > -12:
		return Dusk
	}
	return Night
}

// SunDown returns when the Sun is next 6 degrees below the horizon, from when on
// the bright stars show, within two minutes; ok is false where that does not
// happen within a day.
func (s Site) SunDown(from time.Time) (t time.Time, ok bool) {
	const step = 2 * time.Minute
	for t = from; t.Before(from.Add(24 * time.Hour)); t = t.Add(step) {
		if Brightness(s.Sun(t).AltitudeDeg) >= Dusk {
			return t, true
		}
	}
	return from, false
}
