package sky

import (
	"fmt"
	"math"
	"strings"
)

// fist is what a fist at arm's length covers, degrees: common practice, no source.
const fist = 10

var winds = [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}

// Compass returns the name of the nearest of the eight winds.
func Compass(azimuthDeg float64) string {
	i := int(math.Round(azimuthDeg/45)) % 8
	return winds[(i+8)%8]
}

// Wind returns the azimuth of a wind's name, degrees.
func Wind(name string) (azimuthDeg float64, ok bool) {
	name = strings.ReplaceAll(strings.ToLower(strings.TrimSpace(name)), " ", "-")
	for i, w := range winds {
		if name == w || name == strings.ReplaceAll(w, "-", "") {
			return float64(i) * 45, true
		}
	}
	return 0, false
}

// Point says where something is as a person would point: "high in the north-east".
func (h Horizontal) Point() string {
	how := ""
	switch a := h.AltitudeDeg; {
	case a >= 78:
		return "nearly overhead, toward the " + Compass(h.AzimuthDeg)
	case a >= 50:
		how = "high"
	case a >= 30:
		how = "half-way up"
	default:
		how = "low"
	}
	return how + " in the " + Compass(h.AzimuthDeg)
}

// Fists says how far above the horizon something is, and above a roof line, in
// fists at arm's length.
func (h Horizontal) Fists(roofDeg float64) string {
	words := fists(h.AltitudeDeg) + " above the horizon"
	if over := h.AltitudeDeg - roofDeg; roofDeg > 0 && over >= 0 {
		words += ", " + fists(over) + " above the roof line"
	}
	return words
}

// fists counts in halves.
func fists(angleDeg float64) string {
	numbers := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
	halves := int(math.Round(2 * max(0, angleDeg) / fist))
	n, half := halves/2, halves%2 == 1
	switch {
	case halves == 0:
		return "hardly"
	case halves == 1:
		return "half a fist"
	case half:
		return numbers[n] + " and a half fists"
	case n == 1:
		return "one fist"
	}
	return numbers[n] + " fists"
}

// Say says the star and where it is, as a person would point.
func (c Choice) Say(roofDeg float64) string {
	return fmt.Sprintf("%s, %s, %s.", c.Name, c.Point(), c.Fists(roofDeg))
}

// Why says what speaks for the star and against it.
func (c Choice) Why() string {
	var words []string
	for _, r := range c.Reasons {
		words = append(words, string(r))
	}
	return strings.Join(words, ", ")
}
