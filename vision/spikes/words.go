package spikes

import (
	"fmt"
	"math"
	"strings"
)

// Say gives a text of the tools' sentences, "spikes.one-line", filled in.
type Say = func(key string, args ...any) string

// Words says what a result tells, one sentence each, and what it does not. The
// aperture, mm, turns a split into millimetres; 0 is unknown. Directions are
// degrees from the frame's right, clockwise.
func (r Result) Words(say Say, apertureMM float64) []string {
	if !r.Found {
		return []string{say("spikes." + string(r.Why))}
	}
	var at []string
	for _, k := range r.Spikes {
		at = append(at, fmt.Sprintf("%.0f", degrees(k.Angle)))
	}
	words := []string{say("spikes.seen-one", 2, at[0], r.kind(say))}
	if last := len(at) - 1; last > 0 {
		list := strings.Join(at[:last], ", ") + say("spikes.and") + at[last]
		words[0] = say("spikes.seen", 2*len(at), len(at), list, r.kind(say))
	}
	single, limit := 0, 0.0
	for _, k := range r.Spikes {
		if k.Double {
			words = append(words, k.split(say, apertureMM))
		} else {
			single, limit = single+1, max(limit, k.Limit)
		}
		if k.Light < leastLight {
			words = append(words, say("spikes.dim", degrees(k.Angle), 100*k.Light))
		}
	}
	if single == len(r.Spikes) {
		words = append(words, say("spikes.all-single", degrees(limit)))
	} else {
		words = append(words, say("spikes.straighten"))
	}
	return append(words, say("spikes.not-primary"))
}

// leastLight is the light of a spike, over the brightest's, below which it is called dim
// (judgement).
const leastLight = 0.5

// kind says which spider makes such spikes.
func (r Result) kind(say Say) string {
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
		return say("spikes.one-vane")
	case n == 2 && even:
		return say("spikes.four-square")
	case n == 2:
		gap := degrees(r.Spikes[1].Angle - r.Spikes[0].Angle)
		return say("spikes.four-crossed", min(gap, 180-gap))
	case n == 3 && even:
		return say("spikes.three-vanes")
	}
	return say("spikes.other-vanes")
}

// evenWithin is how far from even vanes still count as even, radians.
const evenWithin = 3 * math.Pi / 180

// split says what a double spike tells. A holder d off the middle, across two
// vanes that reach from it to the rim, turns each by d over the aperture's radius.
func (k Spike) split(say Say, apertureMM float64) string {
	angle, wide, sigma, vane := degrees(k.Angle), degrees(k.Split), degrees(k.SplitSigma), degrees(k.vane())
	if apertureMM > 0 {
		return say("spikes.split-by", angle, wide, sigma, vane, k.Split*apertureMM/4)
	}
	return say("spikes.split", angle, wide, sigma, vane)
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
