package coach

// voice keeps track of what has been given to say and is not yet out.
type voice struct {
	id   int
	open map[int]spoken
}

type spoken struct {
	cue   Cue
	given float64
}

// longest is how long words may take before they are taken as out, seconds: a
// caller that never says so must not silence the coach.
const longest = 15

func newVoice() voice { return voice{open: map[int]spoken{}} }

// emit numbers a cue. One that replaces what the hand was doing also drops what
// it was about to be told.
func (v *voice) emit(cue *Cue, t float64) {
	switch cue.Action {
	case Stop, Wait, Turn, Recentre:
		for id := range v.open {
			delete(v.open, id)
		}
	}
	v.id++
	cue.ID = v.id
	v.open[v.id] = spoken{*cue, t}
}

func (v *voice) began(id int, t float64) {
	if s, ok := v.open[id]; ok {
		s.given = t
		v.open[id] = s
	}
}

func (v *voice) ended(id int) (Cue, bool) {
	s, ok := v.open[id]
	delete(v.open, id)
	return s.cue, ok
}

func (v *voice) expire(t float64) {
	for id, s := range v.open {
		if t-s.given > longest {
			delete(v.open, id)
		}
	}
}

func (v *voice) busy() bool { return len(v.open) > 0 }
