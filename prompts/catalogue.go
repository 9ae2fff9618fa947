// Package prompts is what halocue says: the catalogue of cues (code, class,
// patience, what silences what), their words in each language, and the
// Narrator, which decides what is said next.
//
// Everything here is pure: times are parameters (seconds since the start of
// the night), nothing is read, written or played. The words are data, in
// text/LANGUAGE.toml, so that they can be improved without programming; see
// TRANSLATING.md. The voices that speak them are in package prompts/voice.
//
// The order of a cue is: which knob, what to do, how much. The same thing is
// always said the same way, and short: every word costs seconds with a hand
// on cold metal.
package prompts

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"halocue/internal/cue"
)

// A Cue is one thing to say.
type Cue = cue.Cue

// variant is the part of the message key that depends on the cue itself.
func variant(c Cue) string { return cmp.Or(c.Result, c.Direction) }

// action is the cue's own action, or the usual one of its code.
func action(c Cue, e *Entry) cue.Action { return cmp.Or(c.Action, e.Action) }

// Class says how urgent a cue is; a higher one is said first.
type Class int

// The classes, least urgent first.
const (
	Chat     Class = iota // explanations that may be cut short
	Tell                  // a fact
	Warn                  // something is wrong, the night goes on
	Instruct              // something for the hands to do; only the newest counts
	Halt                  // the hand must stop now: "stop", "done"
	Danger                // somebody or something can be hurt
)

// Entry is what the catalogue knows about a code. Times are seconds.
type Entry struct {
	Code     string
	Action   cue.Action
	Class    Class    // urgency
	Variants []string // directions or results that have words of their own

	Stale float64 // it may wait this long in the queue and is then no longer true; 0: for ever
	After float64 // as a condition (Narrator.Set) it must last this long before it is said
	Every float64 // as a condition it is said again this often while it lasts; 0: once
	Quiet float64 // not said again within this time of the last, unless it is a condition

	Cuts       []Class  // what it interrupts, if that is being said
	SilencedBy []string // conditions under which it is not said
	NoRepeat   bool     // not worth repeating when the person asks "say again"
}

var catalogue = func() map[string]*Entry {
	all := map[string]*Entry{}
	for _, group := range [][]Entry{handEntries, noticeEntries, skyEntries, systemEntries, answerEntries, lessonEntries, indoorsEntries} {
		for i := range group {
			e := &group[i]
			if all[e.Code] != nil {
				panic("prompts: two entries for " + e.Code) // caught by any test
			}
			all[e.Code] = e
		}
	}
	return all
}()

// Lookup finds the entry of a code.
func Lookup(code string) (*Entry, error) {
	if e := catalogue[code]; e != nil {
		return e, nil
	}
	return nil, fmt.Errorf("no words for the cue %q: add it to the prompts catalogue and to every file in prompts/text", code)
}

// Codes lists every code, sorted.
func Codes() []string { return slices.Sorted(maps.Keys(catalogue)) }
