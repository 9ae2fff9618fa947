package session

import (
	"testing"
	"time"

	"halocue/config"
	"halocue/internal/run/parts"
)

func TestWhichStar(t *testing.T) {
	at := time.Date(2026, 12, 1, 21, 0, 0, 0, time.UTC)
	c := config.Default()
	c.Site.LatitudeDeg, c.Site.LongitudeDeg = 51.5, -0.1
	p, err := parts.Phrases(c.Voice)
	if err != nil {
		t.Fatal(err)
	}
	ask := whichStar(c, func() time.Time { return at })
	for _, step := range []struct {
		later time.Duration
		want  string
	}{
		{0, "Polaris, in the north, 5 fists above the horizon."}, // nearly still, for a mount at rest
		{time.Minute, "Capella, in the east, 5 fists above the horizon."},
		{10 * time.Minute, "Polaris, in the north, 5 fists above the horizon."},
		{14 * time.Hour, "The Sun is up: no star now. Never point at the Sun."},
		{-40 * 365 * 24 * time.Hour, "The computer's clock is not set."},
	} {
		at = at.Add(step.later)
		if got, _, err := p.Text(ask()); err != nil || got != step.want {
			t.Errorf("%v: %q, %v; want %q", at, got, err, step.want)
		}
	}
	nowhere := whichStar(config.Default(), func() time.Time { return at })
	if got, _, err := p.Text(nowhere()); err != nil || got != "I do not know the place. Set latitude and longitude in the settings." {
		t.Errorf("no place: %q, %v", got, err)
	}
	c.Site.RoofLineDeg, at = 80, time.Date(2026, 12, 1, 21, 0, 0, 0, time.UTC)
	if got, _, err := p.Text(whichStar(c, func() time.Time { return at })()); err != nil || got != "No bright star stands well now." {
		t.Errorf("roofs all round: %q, %v", got, err)
	}
}
