package sky

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"halocue/prompts"
)

var english = func() Say {
	s, err := prompts.NewSentences("en")
	if err != nil {
		panic(err)
	}
	return s.Say
}()

var (
	london = Site{51.5, -0.1}
	sydney = Site{-33.87, 151.2}
	winter = time.Date(2026, 12, 1, 21, 0, 0, 0, time.UTC)
)

func names(choices []Choice) (out []string) {
	for _, c := range choices {
		out = append(out, c.Name)
	}
	return out
}

func TestCatalogue(t *testing.T) {
	stars := everyStar()
	if len(stars) != 76 {
		t.Errorf("%d stars, want 76", len(stars))
	}
	found := 0
	for _, s := range stars {
		if pairs[s.Name] {
			found++
		}
	}
	if found != len(pairs) {
		t.Errorf("%d of the %d pairs are in the catalogue: a name is mistyped", found, len(pairs))
	}
	if _, err := parse("name,hip\nSirius,1,2,x,4,5,6"); err == nil {
		t.Error("a broken line was taken")
	}
}

// An undriven telescope is best served by Polaris, the only bright star that
// stays in its frame: it drifts 0.19 arcsec/s (15.041 x cos 89.264).
func TestAtRestPolaris(t *testing.T) {
	c := Choose(Wish{Site: london, At: winter, RoofDeg: 20})
	if len(c) < 5 || c[0].Name != "Polaris" {
		t.Fatalf("chose %v", names(c))
	}
	// Precession has brought Polaris 0.1 degrees nearer the pole since 2000.
	if d := c[0].Drift; math.Abs(d-0.19) > 0.04 {
		t.Errorf("Polaris drifts %.3f arcsec/s", d)
	}
	if !slices.Contains(c[0].Reasons, Still) {
		t.Errorf("why: %s", c[0].why(english))
	}
	south := Choose(Wish{Site: sydney, At: time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC), RoofDeg: 20})
	if len(south) == 0 || south[0].DecDeg > -50 || south[0].Pair {
		t.Errorf("in the south: %v", names(south))
	}
}

// With a mount that follows, the drift does not count: a brilliant star high up.
func TestFollowingHighAndBrilliant(t *testing.T) {
	c := Choose(Wish{Site: london, At: winter, RoofDeg: 20, Tracking: true})
	if len(c) == 0 || c[0].Name != "Capella" {
		t.Fatalf("chose %v", names(c))
	}
}

func TestNothingUnsuitable(t *testing.T) {
	for hour := range 24 * 12 {
		for _, site := range []Site{london, sydney, {0.35, 32.6}, {69.65, 18.96}} {
			at := winter.Add(time.Duration(hour) * 31 * time.Hour)
			w := Wish{Site: site, At: at, RoofDeg: 25, ApertureMM: 150}
			sun := site.Sun(at)
			choices := Choose(w)
			if sun.AltitudeDeg > 0 && len(choices) > 0 {
				t.Fatalf("%v at %v: %v with the Sun %.1f deg up", site, at, names(choices), sun.AltitudeDeg)
			}
			for i, c := range choices {
				if c.V > 2 || c.AltitudeDeg < 25 || c.Later < 25 {
					t.Fatalf("%v at %v: %s, V %.2f, at %.1f and later %.1f deg", site, at, c.Name, c.V, c.AltitudeDeg, c.Later)
				}
				if i > 0 && c.cost < choices[i-1].cost {
					t.Fatalf("%s stands behind a worse one", c.Name)
				}
			}
		}
	}
}

// In daylight nothing is chosen unless asked for, and then nothing near the Sun.
func TestDaylight(t *testing.T) {
	w := Wish{Site: london, At: time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC), RoofDeg: 20, Tracking: true}
	if c := Choose(w); c != nil {
		t.Errorf("at noon: %v", names(c))
	}
	w.Daylight = true
	c := Choose(w)
	if len(c) == 0 {
		t.Fatal("nothing by day even when asked for")
	}
	for _, c := range c {
		if d := separation(c.Horizontal, w.Site.Sun(w.At)); d < 45 {
			t.Errorf("%s stands %.0f deg from the Sun", c.Name, d)
		}
	}
}

// A pair stands behind a single star at the same place; Castor and Pollux are 4.5
// degrees apart.
func TestSingleBeforePair(t *testing.T) {
	c := names(Choose(Wish{Site: london, At: winter.Add(4 * time.Hour), RoofDeg: 20, Tracking: true}))
	pollux, castor := slices.Index(c, "Pollux"), slices.Index(c, "Castor")
	if pollux < 0 || castor < pollux {
		t.Errorf("chose %v", c)
	}
}

func TestNearTarget(t *testing.T) {
	h, _ := london.Look(mustStar(t, "Vega"), winter)
	w := Wish{Site: london, At: winter, RoofDeg: 5, Tracking: true}
	away := slices.Index(names(Choose(w)), "Deneb")
	w.Target = &h
	if near := slices.Index(names(Choose(w)), "Deneb"); near >= away {
		t.Errorf("Deneb, beside Vega, is number %d with Vega as the target, %d without", near+1, away+1)
	}
}

// What each drawback costs, in units of the blur at the zenith: the air's by the power
// 3/5 of its mass (Roddier 1981), the rest as the constants have it; and what is said.
func TestWeights(t *testing.T) {
	still := Wish{Tracking: true}
	there := Wish{Tracking: true, Target: &Horizontal{AltitudeDeg: 0, AzimuthDeg: 0}}
	for name, c := range map[string]struct {
		star            Star
		alt, az, later  float64
		drift           float64
		lowest, highest float64
		w               Wish
		cost            float64
		why             []Reason
	}{
		"overhead, tracked":   {Star{V: 0}, 90, 0, 90, 15, 90, 90, still, 0, []Reason{High, Single, Brilliant}},
		"overhead, by hand":   {Star{V: 0}, 90, 0, 90, 0, 90, 90, Wish{}, 0.3, []Reason{Still, High, Single, Brilliant, Overhead}},
		"half the air":        {Star{V: 0}, 30, 0, 30, 0, 30, 30, still, 0.5157, []Reason{Single, Brilliant}},
		"low":                 {Star{V: 0}, 20, 0, 25, 0, 20, 25, still, 0.9035, []Reason{Low, Single, Brilliant, Rising}},
		"fainter":             {Star{V: 2.5}, 90, 0, 87, 0, 90, 90, still, 0.3, []Reason{High, Single, Enough, Sinking}},
		"a pair":              {Star{V: 0, Pair: true}, 90, 0, 91, 0, 90, 90, still, 0.6, []Reason{High, Double, Brilliant}},
		"drifts":              {Star{V: 0}, 60, 0, 60, 7.52, 90, 60, Wish{}, 0.45, []Reason{Slow, High, Single, Brilliant}},
		"drifts fast":         {Star{V: 0}, 60, 0, 60, 15.04, 90, 60, Wish{}, 0.9, []Reason{High, Single, Brilliant}},
		"near the target":     {Star{V: 0}, 18, 0, 18, 0, 90, 18, there, 0.16, []Reason{High, NearThere, Single, Brilliant}},
		"far from the target": {Star{V: 0}, 0, 90, 0, 0, 90, 0, there, 0.8, []Reason{High, Single, Brilliant}},
	} {
		got := Choice{Star: c.star, Horizontal: Horizontal{AltitudeDeg: c.alt, AzimuthDeg: c.az}, Drift: c.drift, Later: c.later}
		got.weigh(c.w, c.lowest, c.highest)
		if math.Abs(got.cost-c.cost) > 0.002 || !slices.Equal(got.Reasons, c.why) {
			t.Errorf("%s: cost %.4f, %q; want %.4f, %q", name, got.cost, got.Reasons, c.cost, c.why)
		}
	}
}

// Second magnitude for 150 mm, and the light grows with the area; 1 to 3.
func TestFaintest(t *testing.T) {
	for aperture, want := range map[float64]float64{0: 2, 150: 2, 189: 2.5, 119: 1.5, 76: 1, 400: 3} {
		if got := faintest(aperture); math.Abs(got-want) > 0.01 {
			t.Errorf("%g mm: %.2f, want %g", aperture, got, want)
		}
	}
}

func mustStar(t *testing.T, name string) Star {
	t.Helper()
	s, ok := Named(name)
	if !ok {
		t.Fatalf("no %s", name)
	}
	return s
}

// Sunset in London on 2026 March 20 is at 18:14 UTC and civil twilight ends at
// 18:46 (by PyEphem: Observer.next_setting with horizon -6).
func TestSunDown(t *testing.T) {
	noon := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	got, ok := london.SunDown(noon)
	want := time.Date(2026, 3, 20, 18, 46, 0, 0, time.UTC)
	if d := got.Sub(want); !ok || d.Abs() > 3*time.Minute {
		t.Errorf("down at %v, want %v", got, want)
	}
	if at, ok := (Site{78.2, 15.6}).SunDown(noon.AddDate(0, 3, 0)); ok {
		t.Errorf("in Svalbard's summer: %v", at)
	}
}

func TestWords(t *testing.T) {
	for _, c := range []struct {
		alt, az, roof float64
		want          string
	}{
		{64, 50, 20, "Vega, high in the north-east, six and a half fists above the horizon, four and a half fists above the roof line."},
		{40, 338, 0, "Vega, half-way up in the north, four fists above the horizon."},
		{11, 337, 10, "Vega, low in the north-west, one fist above the horizon, hardly above the roof line."},
		{86, 181, 80, "Vega, nearly overhead, toward the south, eight and a half fists above the horizon, half a fist above the roof line."},
	} {
		got := Choice{Star: Star{Name: "Vega"}, Horizontal: Horizontal{c.alt, c.az}}.Say(english, c.roof)
		if got != c.want {
			t.Errorf("%v, %v:\n got %s\nwant %s", c.alt, c.az, got, c.want)
		}
	}
	for a := 0.0; a <= 90; a += 0.25 {
		if s := fists(english, a); strings.TrimSpace(s) == "" {
			t.Errorf("%v deg: %q", a, s)
		}
	}
	for i, w := range winds {
		if a, ok := azimuthOf(strings.ToUpper(w)); !ok || a != float64(i*45) || compass(a) != w {
			t.Errorf("%s: %v, %v", w, a, ok)
		}
	}
}

// A time without a date is the next that comes on the wall's clock, over a change of
// clocks too (central Europe left summer time on 25 October 2026 at 3:00: EU directive
// 2000/84/EC).
func TestParseTime(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 10, 24, 21, 30, 0, 0, berlin)
	for text, want := range map[string]string{
		"22:00": "2026-10-24T22:00:00+02:00", "21:00": "2026-10-25T21:00:00+01:00", "9:05": "2026-10-25T09:05:00+01:00",
		"2026-12-01 21:00": "2026-12-01T21:00:00+01:00", "2026-12-01T21:00": "2026-12-01T21:00:00+01:00", "2026-12-01T21:00:00Z": "2026-12-01T21:00:00Z",
	} {
		if got, err := ParseTime(text, now); err != nil || got.Format(time.RFC3339) != want {
			t.Errorf("%q is %v, %v; want %s", text, got.Format(time.RFC3339), err, want)
		}
	}
	for _, text := range []string{"", "21", "24:30", "tomorrow", "21:00:00"} {
		if got, err := ParseTime(text, now); err == nil {
			t.Errorf("%q is taken for %v", text, got)
		}
	}
	if got := Clock(english, now); got != "24 October 21:30 CEST, 19:30 UTC" {
		t.Errorf("the clock says %q", got)
	}
}
