package prompts

import (
	"maps"
	"slices"
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

// holds reports whether a condition has lasted long enough to be taken for true.
func (n *Narrator) holds(now float64, code string) bool {
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
		if c.queued || !due || !n.holds(now, code) || n.silencer(now, entry) != "" {
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

func (n *Narrator) conditionCodes() []string { return slices.Sorted(maps.Keys(n.conditions)) }

// conditionSaid notes that a condition is said, if u is one.
func (n *Narrator) conditionSaid(now float64, u *Utterance) {
	if c := n.conditions[u.Cue.Code]; c != nil && u.condition {
		c.queued, c.said, c.saidAt = false, true, now
	}
}

// word makes the utterance of a cue.
func (n *Narrator) word(now float64, c Cue) (*Utterance, error) {
	text, amount, err := n.phrases.Text(c)
	if err != nil {
		return nil, err
	}
	entry := catalogue[c.Code]
	c.Action = action(c, entry)
	return &Utterance{Cue: c, Entry: entry, Text: text, Amount: amount,
		added: now, rank: entry.Class, batch: n.batch}, nil
}

// enqueue adds u, unless it has just been said, and drops what it replaces.
func (n *Narrator) enqueue(now float64, u *Utterance) {
	at, said := n.said[u.Cue.Code]
	anew := !u.Repeat && !u.condition
	why := ""
	switch {
	case anew && said && now-at < u.Entry.Quiet:
		why = "said a moment ago"
	case anew && n.current != nil && n.current.Text == u.Text:
		why = "being said"
	case u.Entry.Class != Instruct && slices.ContainsFunc(n.queue, func(q *Utterance) bool { return q.Text == u.Text }):
		why = "waits already"
		n.conditionSaid(now, u)
	case u.Repeat && u.Entry.Class == Instruct && slices.ContainsFunc(n.queue, instructs):
		why = "a newer one follows"
	}
	if why != "" {
		n.dropped = append(n.dropped, Dropped{u, why})
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

func instructs(u *Utterance) bool { return u.Entry.Class == Instruct }

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
		if !n.holds(now, code) {
			continue
		}
		n.drop("silenced by "+code, func(u *Utterance) bool { return slices.Contains(u.Entry.SilencedBy, code) })
	}
}

// silencer is the condition that silences e now, or "".
func (n *Narrator) silencer(now float64, e *Entry) string {
	for _, code := range e.SilencedBy {
		if n.holds(now, code) {
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
