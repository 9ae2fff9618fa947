package prompts

import (
	"fmt"
	"slices"
	"sort"
)

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

// String is the class as it is written in a journal.
func (c Class) String() string {
	return [...]string{"chat", "tell", "warn", "instruct", "halt", "danger"}[c]
}

// Entry is what the catalogue knows about a code. Times are seconds.
type Entry struct {
	Code     string
	Action   string   // of the outside contract: turn, stop, ..., warn, tell
	Class    Class    // urgency
	Variants []string // directions or results that have words of their own
	Args     []string // what its words can mention; without them the "plain" words are said

	Stale float64 // it may wait this long in the queue and is then no longer true; 0: for ever
	After float64 // as a condition (Narrator.Set) it must last this long before it is said
	Every float64 // as a condition it is said again this often while it lasts; 0: once
	Quiet float64 // not said again within this time of the last, unless it is a condition

	Cuts       []Class  // what it interrupts, if that is being said
	SilencedBy []string // conditions under which it is not said
	NoRepeat   bool     // not worth repeating when the person asks "say again"
}

// cuts reports whether e interrupts a cue of class c.
func (e *Entry) cuts(c Class) bool { return slices.Contains(e.Cuts, c) }

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
func Codes() []string {
	var list []string
	for code := range catalogue {
		list = append(list, code)
	}
	sort.Strings(list)
	return list
}

// keys lists the message keys of an entry, without the verbosity.
func (e *Entry) keys() []string {
	if len(e.Variants) == 0 {
		return []string{e.Code}
	}
	var list []string
	for _, v := range e.Variants {
		list = append(list, e.Code+"."+v)
	}
	return list
}
