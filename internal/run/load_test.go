package run

import (
	"testing"
)

// measuring has the frames of a camera, so many a second, measured for a while, each taking
// so long, on a loop that is woken every wake seconds. It returns how often the computer
// was said to fall short and to keep up, and whether it falls short in the end.
func measuring(l *load, from, seconds, fps, took, wake float64) (shorts, backs int, short bool, end float64) {
	t, frame, done := from, from, from
	for t < from+seconds {
		t += wake
		l.waited(wake)
		for frame+1/fps <= t { // the newest frame wins
			frame += 1 / fps
			if begin := max(frame, done); begin < frame+1/fps {
				done = begin + took*(1+l.rest)
				l.measured(took)
			}
		}
		now, news := l.judge(t)
		switch {
		case news && now:
			shorts++
		case news:
			backs++
		}
		short = now
	}
	return shorts, backs, short, t
}

func TestLoad(t *testing.T) {
	for name, c := range map[string]struct {
		fps, took, wake float64
		want            bool
	}{
		"a quiet computer":         {30, 0.006, 0.02, false},
		"a slow one, fast enough":  {30, 0.06, 0.02, false},
		"too slow":                 {30, 0.15, 0.02, true},
		"far too slow":             {30, 1.3, 0.02, true},
		"a slow camera":            {2, 0.1, 0.02, false},
		"a slow camera, and board": {8, 0.3, 0.02, true},
		"a fast camera":            {120, 0.02, 0.02, false},
		"woken late":               {30, 0.006, 0.1, true},
		"woken a little late":      {30, 0.006, 0.05, false},
	} {
		var l load
		shorts, _, short, end := measuring(&l, 0, 60, c.fps, c.took, c.wake)
		if short != c.want || c.want != (shorts > 0) || shorts > 1 {
			t.Errorf("%s: short %v, said %d times", name, short, shorts)
		}
		// And when all is well again, that is found in two stretches.
		if _, backs, short, _ := measuring(&l, end, 4*stretch, 30, 0.006, 0.02); short || c.want && backs != 1 {
			t.Errorf("%s, then quiet: short %v, back %d times", name, short, backs)
		}
	}
}

// One hiccup is no lasting shortage, and the edge of it does not flutter.
func TestLoadIsPatient(t *testing.T) {
	var l load
	l.waited(0.4)
	if short, _ := l.judge(stretch); short {
		t.Error("one late moment is a shortage")
	}
	changes := 0
	for i := range 100 {
		took := 0.095
		if i%2 == 0 {
			took = 0.11
		}
		shorts, backs, _, _ := measuring(&l, 10+5.5*float64(i), 5.5, 30, took, 0.02)
		changes += shorts + backs
	}
	if changes > 1 {
		t.Errorf("%d changes", changes)
	}
}

// A loop that is woken late has the frames rest, more and more; and less again once it is
// not.
func TestLoadYields(t *testing.T) {
	var l load
	if measuring(&l, 0, 10, 30, 0.006, 0.02); l.rest != 0 {
		t.Errorf("a quiet computer rests %g", l.rest)
	}
	_, _, _, end := measuring(&l, 10, 10, 30, 0.006, 0.2)
	if l.rest != mostRest {
		t.Errorf("a late one rests %g", l.rest)
	}
	if measuring(&l, end, 40, 30, 0.006, 0.02); l.rest != 0 {
		t.Errorf("a quiet one again rests %g", l.rest)
	}
}
