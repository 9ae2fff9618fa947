package night

import (
	"slices"
	"testing"

	"halocue/internal/coach"
	"halocue/internal/cue"
)

// What a person hears for the first time is in full, and keeps its words when it is said
// again; later, and on a later night, it is short.
func TestFirstTimeInFull(t *testing.T) {
	ring := ringAt(640, 480, 100)
	p := newScript(t, Settings{})
	p.show(60, ring) // nobody racks: it is said again and again
	var full []bool
	for _, c := range p.said {
		if c.Code == "other-side" {
			full = append(full, c.Full)
		}
	}
	next := cue.Cue{Code: cue.CodeOtherSide, Action: cue.OtherSide}
	if p.c.word(&next); len(full) < 2 || slices.Contains(full, false) || next.Full {
		t.Errorf("in full: %v, and then %v", full, next.Full)
	}
	m, ok := p.c.Memory()
	if !ok || !slices.Contains(m.Heard, "other-side") {
		t.Fatalf("remembers %v, %v", m.Heard, ok)
	}
	later := newScript(t, Settings{Memory: &coach.Memory{Heard: m.Heard}})
	later.show(3, ring)
	if len(later.said) != 1 || later.said[0].Code != "other-side" || later.said[0].Full {
		t.Errorf("on a later night: %+v", later.said)
	}
}
