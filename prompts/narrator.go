package prompts

import (
	"cmp"
	"errors"
	"slices"
)

// gap is the silence between two utterances, seconds: long enough to hear that one has
// ended.
const gap = 0.2

// An Utterance is a cue with its words, waiting to be said or being said.
type Utterance struct {
	Cue    Cue
	Entry  *Entry
	Text   string
	Amount string // how far to turn, as in Text; "" where nothing is turned
	Repeat bool   // the person asked to hear it again

	added     float64
	rank      Class // its class, or that of the instruction it is the preface of
	batch     int
	condition bool
}

// Dropped is an utterance that will never be said, and why.
type Dropped struct {
	*Utterance
	Why string
}

// Decision is what the Narrator wants of the sound, now.
type Decision struct {
	Cut     bool       // silence what is being said, at once (before Start)
	Start   *Utterance // begin to say this, now; nil: nothing
	Dropped []Dropped  // what has been given up since the last decision
}

// Narrator decides what is said next. Cues come in by Add, conditions that last by Set;
// Step, called for each frame, returns what to start and what to cut. Its rules:
//
//   - One thing at a time; the more urgent class first, then first come first
//     said. A fact that comes in one Add with an instruction and before it is
//     its preface, and is said right before it.
//   - Only the newest instruction counts: it replaces those that wait. Where the
//     catalogue says so it also cuts short what is being said. A stop or a
//     danger starts in the same Step, without a gap.
//   - A cue is dropped, and reported with the reason, if it has waited too long
//     (Entry.Stale), if a condition silences it (SilencedBy), if it was said a moment
//     ago (Quiet), or if it is being said.
//
// It has no clock: now is in seconds and never runs backwards. It is for one
// goroutine.
type Narrator struct {
	phrases    *Phrases
	queue      []*Utterance
	current    *Utterance // being said, as far as the Narrator knows
	last       *Utterance // what "say again" means
	ended      float64    // when the last one ended
	batch      int
	said       map[string]float64 // code: when it was last begun
	conditions map[string]*condition
	dropped    []Dropped
}

// NewNarrator makes a Narrator that words its cues by p.
func NewNarrator(p *Phrases) *Narrator {
	return &Narrator{phrases: p, ended: -gap, said: map[string]float64{}, conditions: map[string]*condition{}}
}

// Idle reports that nothing is being said and nothing waits.
func (n *Narrator) Idle() bool { return n.current == nil && len(n.queue) == 0 }

// Clear drops what is being said, what waits, and the conditions.
func (n *Narrator) Clear() {
	n.current, n.queue = nil, nil
	clear(n.conditions)
}

// Add takes cues to be said, in their order; cues of one Add belong together.
// A cue without words is an error; the others of the same Add are still taken.
func (n *Narrator) Add(now float64, cues ...Cue) error {
	n.batch++
	var errs []error
	for _, c := range cues {
		u, err := n.word(now, c)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		n.enqueue(now, u)
	}
	n.rankPrefaces()
	return errors.Join(errs...)
}

// Repeat says the last thing again, word for word.
func (n *Narrator) Repeat(now float64) error {
	if n.last == nil {
		return n.Add(now, Cue{Code: "nothing-to-repeat"})
	}
	n.batch++
	again := *n.last
	again.added, again.batch, again.rank = now, n.batch, again.Entry.Class
	again.Repeat, again.condition = true, false
	n.enqueue(now, &again)
	return nil
}

// Step decides what happens now. speaking says whether what was last started is
// still sounding (or, without sound, would still be); it must be true from the
// Step that started it until its end.
func (n *Narrator) Step(now float64, speaking bool) Decision {
	if n.current != nil && !speaking {
		n.current, n.ended = nil, now
	}
	n.raiseConditions(now)
	n.dropStale(now)
	var d Decision
	if u := n.next(); u != nil {
		d.Cut, d.Start = n.admit(now, u)
	}
	d.Dropped, n.dropped = n.dropped, nil
	return d
}

// next is the most urgent of the queue, or nil.
func (n *Narrator) next() *Utterance {
	if len(n.queue) == 0 {
		return nil
	}
	slices.SortStableFunc(n.queue, func(a, b *Utterance) int { return cmp.Compare(b.rank, a.rank) })
	return n.queue[0]
}

// admit decides whether u, the first of the queue, may begin now, and what it cuts.
func (n *Narrator) admit(now float64, u *Utterance) (cut bool, start *Utterance) {
	urgent := u.Entry.Class >= Halt
	if n.current != nil {
		if !slices.Contains(u.Entry.Cuts, n.current.Entry.Class) || u.batch == n.current.batch {
			return false, nil
		}
		cut = true
		n.current, n.ended = nil, now
	}
	if !urgent && now-n.ended < gap-1e-9 { // times are tenths of a second, which are rounded in binary
		return cut, nil
	}
	n.queue = n.queue[1:]
	n.current = u
	n.said[u.Cue.Code] = now
	n.conditionSaid(now, u)
	if !u.Entry.NoRepeat {
		n.last = u
	}
	return cut, u
}
