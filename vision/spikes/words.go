package spikes

import (
	"fmt"
	"math"
	"strings"
)

// Words says what a result tells, one sentence each, and what it does not. The
// aperture, mm, turns a split into millimetres; 0 is unknown. Directions are
// degrees from the frame's right, clockwise.
func (r Result) Words(apertureMM float64) []string {
	if !r.Found {
		return []string{reasons[r.Why]}
	}
	var at []string
	for _, k := range r.Spikes {
		at = append(at, fmt.Sprintf("%.0f", degrees(k.Angle)))
	}
	words := []string{fmt.Sprintf("%d spikes, that is %s through the star, at %s degrees: %s.", 2*len(at), count(len(at)), list(at), r.kind())}
	single, limit := 0, 0.0
	for _, k := range r.Spikes {
		if k.Double {
			words = append(words, k.split(apertureMM))
		} else {
			single, limit = single+1, max(limit, k.Limit)
		}
		if k.Light < leastLight {
			words = append(words, fmt.Sprintf("The one at %.0f degrees has only %.0f per cent of the light of the brightest: the vanes across it are thinner, or there is but one.", degrees(k.Angle), 100*k.Light))
		}
	}
	if single == len(r.Spikes) {
		words = append(words, fmt.Sprintf("Each is one line: no vane is out of line by more than %.1f degrees.", degrees(limit)))
	} else {
		words = append(words, "To straighten a vane: by day, tube level, main mirror covered, a hand on the secondary's holder before a screw is loosened.")
	}
	return append(words, "Spikes tell nothing of the main mirror: for that, put the star out of focus.")
}

// leastLight is the light of a spike, against the brightest, below which it is
// worth a word.
const leastLight = 0.5

// kind says which spider makes such spikes.
func (r Result) kind() string {
	n := len(r.Spikes)
	even := true // all round alike
	for i := range r.Spikes {
		gap := r.Spikes[(i+1)%n].Angle - r.Spikes[i].Angle
		if gap <= 0 {
			gap += math.Pi
		}
		even = even && math.Abs(gap-math.Pi/float64(n)) < evenWithin
	}
	switch {
	case n == 1:
		return "as one vane makes them, or two in line"
	case n == 2 && even:
		return "as four vanes make them that stand square"
	case n == 2:
		gap := degrees(r.Spikes[1].Angle - r.Spikes[0].Angle)
		return fmt.Sprintf("as four vanes make them that cross at %.0f degrees instead of 90, which does no harm", min(gap, 180-gap))
	case n == 3 && even:
		return "as three vanes make them"
	}
	return "each vane that is in line with no other makes one of its own; four vanes in line make two"
}

// evenWithin is how far from even vanes still count as even, radians.
const evenWithin = 3 * math.Pi / 180

// split says what a double spike tells. A holder d off the middle, across two
// vanes that reach from it to the rim, turns each by d over the aperture's radius.
func (k Spike) split(apertureMM float64) string {
	s := fmt.Sprintf("The spike at %.0f degrees is split by %.1f degrees, give or take %.1f: the vanes across it, at %.0f degrees, are not in line. One is bent or twisted, or the secondary's holder is pulled to one side",
		degrees(k.Angle), degrees(k.Split), degrees(k.SplitSigma), degrees(k.Vane()))
	if apertureMM > 0 {
		s += fmt.Sprintf(", by %.1f millimetres if it is that", k.Split*apertureMM/4)
	}
	return s + "; a secondary that is set off the middle on purpose does it too."
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }

func count(n int) string {
	if n == 1 {
		return "one line"
	}
	return fmt.Sprintf("%d lines", n)
}

func list(s []string) string {
	if len(s) == 1 {
		return s[0]
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}

// reasons says every code, and what to do next.
var reasons = map[Why]string{
	Dark:      "There is no star to be seen: take the caps off, and put a bright star in the middle.",
	TooBright: "Danger, the frame is flooded with light; never the Sun: turn the telescope away, and take a star by night.",
	Defocused: "The star is not in focus: spikes are seen in focus only; rack until it is as small as can be.",
	AtEdge:    "The star is too near the frame's edge: bring it to the middle.",
	NoSpikes:  "No spikes stand out: expose longer, until the star is burnt out, or take a brighter one; curved vanes make none.",
}
