package cue

// Voice keeps track of the cues that have been given to say and are not yet out.
type Voice struct {
	longest float64
	id      int
	open    map[int]spoken

	Others bool // speak, of something else
}

type spoken struct {
	cue   Cue
	given float64
}

// NewVoice returns a voice whose words are taken as out after longest, seconds, at
// the latest: a caller that never says so must not silence the coach.
func NewVoice(longest float64) Voice { return Voice{longest: longest, open: map[int]spoken{}} }

// Emit numbers a cue. One that replaces what the hand was doing also drops what it
// was about to be told.
func (v *Voice) Emit(cue *Cue, t float64) {
	switch cue.Action {
	case Stop, Wait, Turn, Recentre, HalfTurn:
		clear(v.open)
	}
	v.id++
	cue.ID = v.id
	v.open[v.id] = spoken{*cue, t}
}

// Began takes note of the time, s, at which a cue's first sample sounds; ok is
// false where it is not known.
func (v *Voice) Began(id int, t float64) (cue Cue, ok bool) {
	s, ok := v.open[id]
	if ok {
		s.given = t
		v.open[id] = s
	}
	return s.cue, ok
}

// Ended forgets a cue that is out, or was dropped; ok is false where it is not known.
func (v *Voice) Ended(id int) (cue Cue, ok bool) {
	s, ok := v.open[id]
	delete(v.open, id)
	return s.cue, ok
}

// Expire forgets what should long be out at time t, s.
func (v *Voice) Expire(t float64) {
	for id, s := range v.open {
		if t-s.given > v.longest {
			delete(v.open, id)
		}
	}
}

// Busy reports whether anything is still to be said, by this voice or by others.
func (v *Voice) Busy() bool { return len(v.open) > 0 || v.Others }
