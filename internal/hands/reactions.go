// Package hands is about what a person does when something is asked for: how long it
// takes to begin, and what the star's motion shows of it.
package hands

import (
	"math"
	"slices"
)

// Reactions is how long after the words' end a person began to move, seconds,
// newest last, by what was asked for.
type Reactions map[string][]float64

const (
	kept      = 20   // reactions of a kind: an evening's worth
	mostHands = 0.85 // the quantile of them that counts: one in seven may be an accident
)

// Seconds. Common practice, no source.
const (
	Latest   = 60.0 // how long after the words everybody is late
	StopWord = 0.45 // how long the word stop takes
	Reaction = 0.6  // from the end of a word to the move of a hand that is at work
)

// Add takes in a reaction of so many seconds; below 0 it counts as 0, and one of Latest
// or more is left out.
func (r Reactions) Add(kind string, seconds float64) {
	if seconds = math.Max(seconds, 0); seconds < Latest {
		all := append(slices.Clone(r[kind]), math.Round(100*seconds)/100)
		r[kind] = all[max(0, len(all)-kept):]
	}
}

// Clone returns a copy without what cannot be (below 0, or Latest and more); it is never nil.
func (r Reactions) Clone() Reactions {
	c := Reactions{}
	for kind, all := range r {
		for _, s := range all {
			if s >= 0 {
				c.Add(kind, s)
			}
		}
	}
	return c
}

// Quantile returns the reaction, seconds, within which most hands have begun; ok is false
// where none was seen.
func (r Reactions) Quantile(kind string) (seconds float64, ok bool) {
	all := slices.Sorted(slices.Values(r[kind]))
	if len(all) == 0 {
		return 0, false
	}
	return all[int(math.Ceil(mostHands*float64(len(all))))-1], true
}
