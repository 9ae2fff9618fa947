package rough

import "halocue/internal/coach"

// voice keeps track of what has been given to say and is not yet out.
type voice struct {
	id   int
	open map[int]given
}

type given struct {
	cue coach.Cue
	t   float64
}

// longest is how long words may take before they are taken as out, seconds: how a
// mark is put on takes some thirty.
const longest = 45

func newVoice() voice { return voice{open: map[int]given{}} }

// emit numbers a cue. One that replaces what the hand was doing also drops what it
// was about to be told.
func (v *voice) emit(cue *coach.Cue, t float64) {
	switch cue.Action {
	case coach.Stop, coach.Wait, coach.Turn, HalfTurn:
		clear(v.open)
	}
	v.id++
	cue.ID = v.id
	v.open[v.id] = given{*cue, t}
}

func (v *voice) began(id int, t float64) {
	if g, ok := v.open[id]; ok {
		g.t = t
		v.open[id] = g
	}
}

func (v *voice) ended(id int) (coach.Cue, bool) {
	g, ok := v.open[id]
	delete(v.open, id)
	return g.cue, ok
}

func (v *voice) expire(t float64) {
	for id, g := range v.open {
		if t-g.t > longest {
			delete(v.open, id)
		}
	}
}

func (v *voice) busy() bool { return len(v.open) > 0 }
