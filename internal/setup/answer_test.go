package setup

import (
	"errors"
	"math"
	"testing"
)

// The inch is 25.4 mm exactly: international yard and pound agreement, 1959.
func TestMillimetres(t *testing.T) {
	for text, want := range map[string]float64{
		"200": 200, "200 mm": 200, "200mm.": 200, "20 cm": 20 * 10, "1.2 m": 1200, "1,2 m": 1200, "130 Millimetres": 130,
		"8 inch": 203, "8 inches": 203, `8"`: 203, "8in": 203, "eight inches": 203, "8-inch": 203, "10 inches": 254, "12 in": 305,
		"4.5 inches": 114, "4 1/2 inch": 114, "4½ inch": math.NaN(), `1/2"`: 12.7,
		"1,200": math.NaN(), "": math.NaN(), "mm": math.NaN(), "-200": math.NaN(), "200 300": math.NaN(), "2e2": math.NaN(),
		"inf": math.NaN(), "NaN": math.NaN(), "0x20": math.NaN(), "1/0": math.NaN(), "about 200": math.NaN(),
	} {
		got, err := millimetres(text)
		check(t, text, got, want, err)
	}
}

func TestClock(t *testing.T) {
	for text, want := range map[string]float64{
		"8": 8, "8 o'clock": 8, "8 O’clock.": 8, "eight": 8, "at 8": 8, "12": 12, "0": 12, "top": 12, "Left": 9, "bottom": 6, "right": 3,
		"8:30": 8.5, "8h30": 8.5, "8.5": 8.5, "8,5": 8.5, "half past 8": 8.5, "half past eight": 8.5, "12:30": 0.5, "12:00": 12, "10:20": 10.33,
		"13": math.NaN(), "13:00": math.NaN(), "8:75": math.NaN(), "-1": math.NaN(), "behind": math.NaN(), "99:99": math.NaN(),
	} {
		got, err := english.clock(text)
		check(t, text, got, want, err)
	}
}

// check compares an answer that was read with what is meant; NaN: it is a slip.
func check(t *testing.T, text string, got, want float64, err error) {
	t.Helper()
	var wrong slip
	switch {
	case math.IsNaN(want):
		if !errors.As(err, &wrong) {
			t.Errorf("%q is read as %v, %v; it should be a slip", text, got, err)
		}
	case err != nil || math.Abs(got-want) > 1e-9:
		t.Errorf("%q is read as %v, %v; want %v", text, got, err, want)
	}
}

func TestYesNo(t *testing.T) {
	for text, want := range map[string]string{
		"yes": "yes", "Y": "yes", "Yes.": "yes", "no": "no", "N": "no", "Nope!": "no", "maybe": "slip", "1": "slip", "": "slip", "yes no": "slip",
	} {
		got, err := english.yesNo(text)
		if said := map[bool]string{true: "slip", false: english.yes(got)}[err != nil]; said != want {
			t.Errorf("%q is read as %s; want %s", text, said, want)
		}
	}
}

func TestControls(t *testing.T) {
	for text, want := range map[string]control{
		"skip": skip, "Skip.": skip, " BACK ": back, "": repeat, "again": repeat, "?": help, "quit": quit,
		"Not  known": unknown, "I don’t know.": unknown, "8": none, "yes": none, "skipper": none,
	} {
		if got := english.steer(text); got != want {
			t.Errorf("%q is read as control %d, want %d", text, got, want)
		}
	}
}

// Pitches in mm. M3 to M8: ISO 261, coarse series (in ISO 262 as well). UNC and
// UNF: ASME B1.1 gives threads to the inch. The sums are written out.
func TestThreads(t *testing.T) {
	for text, want := range map[string]float64{
		"M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1, "M8": 1.25, "m 6": 1, " m4 ": 0.7,
		"8-32": 0.79375, "10-24": 1.0583333333, "10-32": 0.79375, "1/4-20": 1.27,
		"10 24": 1.0583333333, "1/4 20": 1.27, "10-24 UNC": 1.0583333333, "#10-32 unf": 0.79375, "20 tpi": 1.27,
		"M6x0.75": 0.75, "M 8 x 1": 1, "0.8": 0.8, "0,8 mm": 0.8,
		"M7": math.NaN(), "M": math.NaN(), "MM": math.NaN(), "M6x": math.NaN(), "coarse": math.NaN(), "0 tpi": math.NaN(), "5-40": math.NaN(),
	} {
		_, got, err := parseThread(text)
		if err == nil {
			got = math.Round(got*1e10) / 1e10
		}
		check(t, text, got, want, err)
	}
}

func TestFileName(t *testing.T) {
	for name, want := range map[string]string{
		"dobson": "halocue-dobson.toml", "My Travel_Scope": "halocue-my-travel-scope.toml", "8": "halocue-8.toml",
		"": "", "../x": "", "a/b": "", "-": "", "a.b": "", "x\x00": "",
	} {
		if got, err := FileName(name); got != want || (err == nil) != (want != "") {
			t.Errorf("profile %q is kept in %q, %v; want %q", name, got, err, want)
		}
	}
}

// The signs are those of ISO 6709: north and east positive.
func TestPlaces(t *testing.T) {
	for line, want := range map[string][2]float64{
		"51.5 north 0.1 west": {51.5, -0.1},
		"51.5N, 0.1W":         {51.5, -0.1},
		"-33.87 151.2":        {-33.87, 151.2},
		"33.87 degrees South, 151.2 degrees east.": {-33.87, 151.2},
		"33.87° s 70° w":                           {-33.87, -70},
		"0 and 90 e":                               {0, 90},
		"51,5 -0,1":                                {51.5, -0.1},
		"51° 30' N, 0° 6' W":                       {51.5, -0.1},
		"N51 30 W0 6":                              {51.5, -0.1},
		"51 30 0 N 0 6 36 W":                       {51.5, -0.11},
		"51 degrees 30 minutes north and 0 degrees 6 minutes west": {51.5, -0.1},
		"51 30,6 N 13 24 E": {51.51, 13.4},
		"-33 52 151 12":     {-33.8667, 151.2},
	} {
		if lat, long, err := english.parsePlace(line); err != nil || lat != want[0] || long != want[1] {
			t.Errorf("%q is %v, %v, %v; want %v", line, lat, long, err, want)
		}
	}
	for _, line := range []string{"51.5", "51.5 west 0.1 north", "91 0", "-51.5 south 3 east", "51 30 0,1", "London", "10 181", "51 60 north 0 6 west", "51.5 30 north 0 6 west", "51 30 0 6 7", "north west"} {
		if lat, long, err := english.parsePlace(line); err == nil {
			t.Errorf("%q is taken for %v, %v", line, lat, long)
		}
	}
}

// O is east in German and Dutch, and west in French, Spanish, Italian and Portuguese.
func TestPlacesOfEachLanguage(t *testing.T) {
	for code, line := range map[string]string{
		"de": "52° 30' N 13° 24' O", "nl": "52,5 NB 13,4 OL", "fr": "52,5 nord 13,4 est", "pl": "52,5 N 13 24 E", "sv": "52,5 N 13,4 Ö",
		"it": "52 30 N 13 24 E", "es": "52,5 norte 13,4 este", "pt": "52,5 norte 13,4 leste",
	} {
		if lat, long, err := tongueOf(code).parsePlace(line); err != nil || lat != 52.5 || long != 13.4 {
			t.Errorf("%s: %q is %v, %v, %v", code, line, lat, long, err)
		}
	}
	for _, code := range []string{"fr", "es", "it", "pt"} {
		if lat, long, err := tongueOf(code).parsePlace("40 24 N 3 42 O"); err != nil || lat != 40.4 || long != -3.7 {
			t.Errorf("%s: %v, %v, %v", code, lat, long, err)
		}
	}
}
