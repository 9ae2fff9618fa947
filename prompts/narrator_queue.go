package prompts

import (
	"slices"
	"sort"
)

// A condition is something that holds for a while: the camera is gone.
type condition struct {
	cue    Cue
	since  float64
	queued bool    // waits to be said, or is being said
	said   bool    // was heard at least once
	saidAt float64 // when it was last begun
}

// Set says that the condition of c (its code) holds, or no longer does. One that ends
// before Entry.After is not said. While it holds it silences what depends on it
// (Entry.SilencedBy), and is said again every Entry.Every seconds.
func (n *Narrator) Set(now float64, c Cue, on bool) error {
	if _, err := n.word(now, c); err != nil {
		return err
	}
	old := n.conditions[c.Code]
	switch {
	case on && old == nil:
		n.conditions[c.Code] = &condition{cue: c, since: now}
	case on:
		old.cue = c
	case old != nil:
		delete(n.conditions, c.Code)
		n.drop("no longer so", func(u *Utterance) bool { return u.condition && u.Cue.Code == c.Code })
	}
	return nil
}

// Holds reports whether a condition has lasted long enough to be taken for true.
func (n *Narrator) Holds(now float64, code string) bool {
	c := n.conditions[code]
	return c != nil && now-c.since >= catalogue[code].After
}

// Heard reports whether a condition that holds has been said.
func (n *Narrator) Heard(code string) bool {
	c := n.conditions[code]
	return c != nil && c.said
}

// raiseConditions queues the conditions whose time has come, in the order of
// their codes, so that a night repeats itself exactly.
func (n *Narrator) raiseConditions(now float64) {
	for _, code := range n.conditionCodes() {
		c, entry := n.conditions[code], catalogue[code]
		due := !c.said || entry.Every > 0 && now-c.saidAt >= entry.Every
		if c.queued || !due || !n.Holds(now, code) || n.silencer(now, entry) != "" {
			continue
		}
		u, err := n.word(now, c.cue)
		if err != nil { // Set has tried the words, but the language may have changed since
			c.said, c.saidAt = true, now
			n.dropped = append(n.dropped, Dropped{&Utterance{Cue: c.cue, Entry: entry}, err.Error()})
			continue
		}
		n.batch++
		u.batch, u.condition, c.queued = n.batch, true, true
		n.enqueue(now, u)
	}
}

func (n *Narrator) conditionCodes() []string {
	codes := make([]string, 0, len(n.conditions))
	for code := range n.conditions {
		codes = append(codes, code)
	}
	sort.Strings(codes)
	return codes
}

func (n *Narrator) conditionSaid(now float64, code string) {
	if c := n.conditions[code]; c != nil {
		c.queued, c.said, c.saidAt = false, true, now
	}
}

// word makes the utterance of a cue.
func (n *Narrator) word(now float64, c Cue) (*Utterance, error) {
	text, amount, err := n.phrases.Text(c)
	if err != nil {
		return nil, err
	}
	entry, err := Lookup(c.Code)
	if err != nil {
		return nil, err
	}
	c.Action = c.action(entry)
	return &Utterance{Cue: c, Entry: entry, Text: text, Amount: amount,
		added: now, rank: entry.Class, batch: n.batch}, nil
}

// enqueue adds u, unless it has just been said, and drops what it replaces.
func (n *Narrator) enqueue(now float64, u *Utterance) {
	if !u.Repeat && !u.condition {
		if at, ok := n.said[u.Cue.Code]; ok && now-at < u.Entry.Quiet {
			n.dropped = append(n.dropped, Dropped{u, "said a moment ago"})
			return
		}
		if n.current != nil && n.current.Text == u.Text {
			n.dropped = append(n.dropped, Dropped{u, "being said"})
			return
		}
	}
	if u.Entry.Class != Instruct && slices.ContainsFunc(n.queue, func(q *Utterance) bool { return q.Text == u.Text }) {
		n.dropped = append(n.dropped, Dropped{u, "waits already"})
		if u.condition {
			n.conditionSaid(now, u.Cue.Code)
		}
		return
	}
	if u.Repeat && u.Entry.Class == Instruct && n.waiting(Instruct) {
		n.dropped = append(n.dropped, Dropped{u, "a newer one follows"})
		return
	}
	if u.Entry.Class >= Instruct {
		n.replaceInstructions(u)
	}
	n.queue = append(n.queue, u)
}

// replaceInstructions drops the instructions that wait, and their prefaces. A
// stop that waits is not replaced: the new instruction follows it.
func (n *Narrator) replaceInstructions(by *Utterance) {
	gone := map[int]bool{}
	for _, u := range n.queue {
		if u.Entry.Class == Instruct {
			gone[u.batch] = true
		}
	}
	n.drop("replaced by "+by.Cue.Code, func(u *Utterance) bool {
		preface := u.Entry.Class < Instruct && u.rank == Instruct
		return u.Entry.Class == Instruct || preface && gone[u.batch]
	})
}

func (n *Narrator) waiting(c Class) bool {
	for _, u := range n.queue {
		if u.Entry.Class == c {
			return true
		}
	}
	return false
}

// rankPrefaces makes the facts of the newest batch that precede an instruction as urgent
// as the instruction.
func (n *Narrator) rankPrefaces() {
	instructed := false
	for i := len(n.queue) - 1; i >= 0; i-- {
		u := n.queue[i]
		if u.batch != n.batch {
			continue
		}
		if u.Entry.Class == Instruct {
			instructed = true
		} else if instructed && u.rank < Instruct {
			u.rank = Instruct
		}
	}
}

// dropStale drops what has waited too long or is silenced.
func (n *Narrator) dropStale(now float64) {
	n.drop("waited too long", func(u *Utterance) bool {
		return !u.Repeat && u.Entry.Stale > 0 && now-u.added > u.Entry.Stale
	})
	for _, code := range n.conditionCodes() {
		if !n.Holds(now, code) {
			continue
		}
		n.drop("silenced by "+code, func(u *Utterance) bool { return slices.Contains(u.Entry.SilencedBy, code) })
	}
}

// silencer is the condition that silences e now, or "".
func (n *Narrator) silencer(now float64, e *Entry) string {
	for _, code := range e.SilencedBy {
		if n.Holds(now, code) {
			return code
		}
	}
	return ""
}

// drop removes from the queue what gone picks.
func (n *Narrator) drop(why string, gone func(*Utterance) bool) {
	kept := n.queue[:0]
	for _, u := range n.queue {
		if !gone(u) {
			kept = append(kept, u)
			continue
		}
		n.dropped = append(n.dropped, Dropped{u, why})
		if c := n.conditions[u.Cue.Code]; c != nil && u.condition {
			c.queued = false
		}
	}
	n.queue = kept
}
