package setup

import (
	"math"
	"regexp"
	"slices"
	"strings"
)

// place is where the telescope stands, for the question which star; it may stay open.
var place = []question{{
	id: "place",
	show: func(d *draft) string {
		if !d.Site.Known() {
			return d.w().term("unknown")
		}
		return d.w().side(d.Site.LatitudeDeg, "north", "south") + ", " + d.w().side(d.Site.LongitudeDeg, "east", "west")
	},
	take: func(d *draft, line string) error {
		lat, long, err := d.w().parsePlace(line)
		if err != nil {
			return err
		}
		d.Site.LatitudeDeg, d.Site.LongitudeDeg = lat, long
		return nil
	},
	unknown: func(d *draft) { d.Site.LatitudeDeg, d.Site.LongitudeDeg = 0, 0 },
}}

func (w *tongue) side(x float64, plus, minus term) string {
	if x < 0 {
		return w.term(minus, w.number(-x))
	}
	return w.term(plus, w.number(x))
}

// A place is written in numbers, signs and sides: 51.5 north 0.1 west, 51° 30' N 0° 6' W,
// N51 30 W0 6, 51,5 N 0,1 W or 51.5 -0.1.
var placeForm = regexp.MustCompile(`^(?:[-−]?\d{1,3}(?:[.,]\d{1,6})?|\pL+|[°º'′’"″,;\s])+$`)

var placePart = regexp.MustCompile(`[-−]?\d{1,3}(?:[.,]\d{1,6})?|\pL+`)

// fillers are words in a place that say nothing.
var fillers = strings.Fields("degrees degree deg minutes minute min and grad minuten und degrés et grados y gradi e graus graden en stopni i grader och")

// coordinate is one of the two, as it is read.
type coordinate struct {
	side  string // north, south, east or west; "" for none
	parts []string
}

// parsePlace reads a latitude and a longitude, degrees, north and east positive.
func (w *tongue) parsePlace(line string) (lat, long float64, err error) {
	if !placeForm.MatchString(plain(line)) {
		return 0, 0, slipOf("no-place", line)
	}
	var all []coordinate
	var bare []string // numbers whose side, if any, is still to come
	before := false   // sides stand before their numbers
	for _, part := range placePart.FindAllString(plain(line), -1) {
		side := w.which(part, "north", "south", "east", "west")
		last := len(all) - 1
		switch {
		case side == "" && slices.Contains(fillers, part):
		case side == "" && strings.ContainsAny(part, "0123456789"):
			if before {
				all[last].parts = append(all[last].parts, part)
			} else {
				bare = append(bare, part)
			}
		case side == "":
			return 0, 0, slipOf("no-place", line)
		case before || len(bare) == 0 && last < 0:
			before = true
			all = append(all, coordinate{side: side})
		default:
			all, bare = append(all, coordinate{side, bare}), nil
		}
	}
	if n := len(bare) / 2; len(all) == 0 && len(bare)%2 == 0 {
		all = []coordinate{{parts: bare[:n]}, {parts: bare[n:]}}
	} else if n := len(all); n == 1 && !before && strings.HasSuffix(all[0].side, "st") && len(all[0].parts)%2 == 0 { // 51 30 0 6 W
		parts := all[0].parts
		all = []coordinate{{parts: parts[:len(parts)/2]}, {all[0].side, parts[len(parts)/2:]}}
	} else if n == 1 && !before {
		all = append(all, coordinate{parts: bare})
	} else if len(bare) > 0 {
		return 0, 0, slipOf("no-place", line)
	}
	if len(all) != 2 || strings.HasSuffix(all[0].side, "st") || strings.HasSuffix(all[1].side, "th") {
		return 0, 0, slipOf("no-place", line)
	}
	lat, ok1 := all[0].degrees()
	long, ok2 := all[1].degrees()
	switch {
	case len(all[0].parts) == 0 || len(all[1].parts) == 0:
		return 0, 0, slipOf("no-place", line)
	case !ok1 || !ok2 || math.Abs(lat) > 90 || math.Abs(long) > 180:
		return 0, 0, slipOf("wrong-place")
	}
	return lat, long, nil
}

// degrees adds up degrees, minutes and seconds.
func (c coordinate) degrees() (x float64, ok bool) {
	scale, minus := 1.0, c.side == "south" || c.side == "west"
	for i, part := range c.parts {
		size, negative := strings.CutPrefix(strings.Replace(part, "−", "-", 1), "-")
		v, err := decimal(size)
		whole := i == len(c.parts)-1 || v == math.Trunc(v)
		if err != nil || i > 2 || i > 0 && v >= 60 || !whole || negative && (i > 0 || c.side != "") {
			return 0, false
		}
		minus = minus || negative
		x, scale = x+v/scale, scale*60
	}
	if minus {
		x = -x
	}
	return round(x), true
}
