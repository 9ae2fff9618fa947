package sky

import (
	"fmt"
	"math"
	"strings"
	"time"

	"gonum.org/v1/gonum/floats/scalar"

	"halocue/internal/words"
)

// Line is a star as the JSON lines have it.
type Line struct {
	Name     string  `json:"name"`
	Altitude float64 `json:"altitude_deg"` // apparent
	Azimuth  float64 `json:"azimuth_deg"`  // from north through east
	V        float64 `json:"v_mag"`
	Drift    float64 `json:"drift_arcsec_per_s"`
	Why      string  `json:"why"`
	Say      string  `json:"say"`
}

// Place reads where a telescope will be used: a bright star's name, or a direction,
// which means half-way up.
func (w Wish) Place(words string) (h Horizontal, ok bool) {
	if az, ok := azimuthOf(words); ok {
		return Horizontal{AltitudeDeg: 45, AzimuthDeg: az}, true
	}
	s, ok := Named(words)
	if ok {
		h, _ = w.Site.Look(s, w.At)
	}
	return h, ok
}

// SunIsUp is the refusal by day, in English, with when it will be dark enough.
func SunIsUp(w Wish, sun Horizontal, english Say) error {
	next := "it does not get dark within a day here: wait for another season"
	if t, ok := w.Site.SunDown(w.At); ok {
		next = "bright stars show from " + Clock(english, t)
	}
	return fmt.Errorf("the Sun is up, %s: never point a telescope at it, nor sweep past it; %s; to be told of stars by day all the same, say --daylight", sun.Point(english), next)
}

// NewLine says a choice as data, whose words are English.
func NewLine(s Choice, roof float64, english Say) Line {
	return Line{
		Name: s.Name, Altitude: scalar.Round(s.AltitudeDeg, 3), Azimuth: scalar.Round(math.Mod(s.AzimuthDeg, 360), 3),
		V: s.V, Drift: scalar.Round(s.Drift, 3), Why: s.why(english), Say: s.Say(english, roof),
	}
}

// ParseTime reads a time: 21:00, the next one that comes at the place of now's clock;
// 2026-12-01 21:00 there; or RFC 3339.
func ParseTime(text string, now time.Time) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	if t, err := time.ParseInLocation("2006-01-02 15:04", strings.Replace(text, "T", " ", 1), now.Location()); err == nil {
		return t, nil
	}
	clock, err := time.Parse("15:04", text)
	if err != nil {
		return clock, fmt.Errorf("%q is not a time; write it as 21:00 in local time, as 2026-12-01T21:00:00Z, or with an offset in place of the Z, as in 2026-12-01T22:00:00+01:00", text)
	}
	t := time.Date(now.Year(), now.Month(), now.Day(), clock.Hour(), clock.Minute(), 0, 0, now.Location())
	if t.Before(now) {
		t = t.AddDate(0, 0, 1)
	}
	return t, nil
}

// Clock says a time, and where that is another clock's, UTC too.
func Clock(say Say, t time.Time) string {
	text := t.Format(say("star.clock"))
	if _, offset := t.Zone(); offset != 0 {
		text += ", " + t.UTC().Format("15:04 MST")
	}
	return text
}

// List is the list for a reader or a screen reader: a sentence a line. Best is which star
// to point at, and what is spoken too.
func List(say Say, w Wish, sun Horizontal, choices []Choice) (head, best string, rest []string) {
	light := say(fmt.Sprintf("star.light-%d", Brightness(sun.AltitudeDeg)))
	for i, s := range choices {
		rest = append(rest, say("star.item", i+1, s.Name, s.Point(say), s.AltitudeDeg, math.Mod(math.Round(s.AzimuthDeg), 360), s.V, s.Drift, words.Capital(s.why(say))))
	}
	return say("star.head", Clock(say, w.At), place(say, w.Site), light), say("star.point-at", choices[0].Say(say, w.RoofDeg)), append(rest, say("star.fist"))
}

func place(say Say, s Site) string {
	ns, ew := "north", "east"
	if s.LatitudeDeg < 0 {
		ns = "south"
	}
	if s.LongitudeDeg < 0 {
		ew = "west"
	}
	return say("star.place", math.Abs(s.LatitudeDeg), say("star.side-"+ns), math.Abs(s.LongitudeDeg), say("star.side-"+ew))
}
