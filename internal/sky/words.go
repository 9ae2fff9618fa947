package sky

import (
	"math"
	"strings"
)

// fist is what a fist at arm's length covers, degrees: common practice, no source.
const fist = 10

var winds = [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}

// Say gives a text of the tools' sentences, "star.high", filled in.
type Say = func(key string, args ...any) string

// compass returns the name of the nearest of the eight winds.
func compass(azimuthDeg float64) string {
	i := int(math.Round(azimuthDeg/45)) % 8
	return winds[(i+8)%8]
}

// azimuthOf returns the azimuth of a direction by name, such as NW, degrees.
func azimuthOf(name string) (azimuthDeg float64, ok bool) {
	name = strings.ReplaceAll(strings.ToLower(strings.TrimSpace(name)), " ", "-")
	for i, w := range winds {
		if name == w || name == strings.ReplaceAll(w, "-", "") {
			return float64(i) * 45, true
		}
	}
	return 0, false
}

// Point says where something is as a person would point: "high in the north-east".
func (h Horizontal) Point(say Say) string {
	how := "low"
	switch a := h.AltitudeDeg; {
	case a >= 78:
		how = "overhead"
	case a >= 50:
		how = "high"
	case a >= 30:
		how = "half-way"
	}
	return say("star."+how, say("star.wind-"+compass(h.AzimuthDeg)))
}

// fists says how far above the horizon something is, and above a roof line, in
// fists at arm's length.
func (h Horizontal) fists(say Say, roofDeg float64) string {
	if over := h.AltitudeDeg - roofDeg; roofDeg > 0 && over >= 0 {
		return say("star.above-roof", fists(say, h.AltitudeDeg), fists(say, over))
	}
	return say("star.above", fists(say, h.AltitudeDeg))
}

// fists counts in halves.
func fists(say Say, angleDeg float64) string {
	halves := int(math.Round(2 * max(0, angleDeg) / fist))
	switch halves {
	case 0:
		return say("star.hardly")
	case 1:
		return say("star.half-fist")
	case 2:
		return say("star.one-fist")
	}
	key := "star.fists"
	if halves%2 == 1 {
		key = "star.fists-half"
	}
	return say(key, strings.Split(say("star.numbers"), "|")[halves/2])
}

// Say says the star and where it is, as a person would point.
func (c Choice) Say(say Say, roofDeg float64) string {
	return say("star.say", c.Name, c.Point(say), c.fists(say, roofDeg))
}

// why says what speaks for the star and against it.
func (c Choice) why(say Say) string {
	var words []string
	for _, r := range c.Reasons {
		words = append(words, say("star.why-"+string(r)))
	}
	return strings.Join(words, ", ")
}
