package setup

import (
	"math"
	"regexp"
	"strings"
)

// place is where the telescope stands, for the question which star; it may stay open.
var place = []question{{
	id: "place",
	show: func(d *draft) string {
		if !d.Site.Known() {
			return "not known"
		}
		return degrees(d.Site.LatitudeDeg, "north", "south") + ", " + degrees(d.Site.LongitudeDeg, "east", "west")
	},
	take: func(d *draft, line string) error {
		lat, long, err := parsePlace(line)
		if err != nil {
			return err
		}
		d.Site.LatitudeDeg, d.Site.LongitudeDeg = lat, long
		return nil
	},
	unknown: func(d *draft) { d.Site.LatitudeDeg, d.Site.LongitudeDeg = 0, 0 },
}}

func degrees(x float64, plus, minus string) string {
	if x < 0 {
		return text(-x) + " degrees " + minus
	}
	return text(x) + " degrees " + plus
}

// A place is two numbers of degrees: 51.5 north 0.1 west, 51.5 N, 0.1 W or 51.5 -0.1.
var placeForm = regexp.MustCompile(`^([-−]?\d{1,3}(?:\.\d{1,6})?)\s*°?\s*(?:degrees? )?\s*(north|south|n|s)?[\s,;]+(?:and )?([-−]?\d{1,3}(?:\.\d{1,6})?)\s*°?\s*(?:degrees?)?\s*(east|west|e|w)?$`)

// parsePlace reads a latitude and a longitude, degrees, north and east positive.
func parsePlace(line string) (lat, long float64, err error) {
	m := placeForm.FindStringSubmatch(plain(line))
	if m == nil {
		return 0, 0, slipf("%q is no place; say it as 51.5 north 0.1 west, in degrees", line)
	}
	signed := func(digits, side string) (float64, bool) {
		size, minus := strings.CutPrefix(strings.Replace(digits, "−", "-", 1), "-")
		x, err := decimal(size)
		if minus && side != "" || err != nil {
			return 0, false
		}
		if minus || strings.HasPrefix(side, "s") || strings.HasPrefix(side, "w") {
			x = -x
		}
		return round(x), true
	}
	lat, ok1 := signed(m[1], m[2])
	long, ok2 := signed(m[3], m[4])
	if !ok1 || !ok2 || math.Abs(lat) > 90 || math.Abs(long) > 180 {
		return 0, 0, slip("the latitude is at most 90 degrees, the longitude 180, and a minus stands in place of south or west")
	}
	return lat, long, nil
}
