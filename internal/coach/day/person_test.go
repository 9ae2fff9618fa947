package day_test

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/coach/day"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/simulate/indoors"
)

// until lets the coach speak until a cue is asked for, and reports whether it was.
func (d *session) until(is func(cue.Cue) bool, limit float64) bool {
	for d.t < limit && d.result == "" {
		n := len(d.said)
		d.run(d.t + 1.0/fps)
		for _, c := range d.said[n:] {
			if is(c) {
				return true
			}
		}
	}
	return false
}

// A person who is content when the plug is to be turned has proved nothing. With only the locks still to be snugged the
// mirror is claimed, and is where a claim needs it.
func TestPersonIsContent(t *testing.T) {
	halfTurn := func(c cue.Cue) bool { return c.Action == cue.HalfTurn }
	snug := func(c cue.Cue) bool { return c.Action == cue.Lock && c.Direction == cue.Snug }
	for _, c := range []struct {
		when func(cue.Cue) bool
		want string
	}{{halfTurn, cue.GivenUp}, {snug, day.Rough}} {
		s := indoors.Demo(2)
		set := settings(s)
		set.Locks = true
		d := sessionWith(t, s, set)
		if !d.until(c.when, 600) {
			t.Fatalf("it does not come so far\n%s", d.script())
		}
		a := d.coach.Hear(command.Finished, d.t)
		if len(a.Cues) != 1 || a.Cues[0].Result != c.want {
			t.Errorf("%+v, want the result %q", a.Cues, c.want)
		}
		if off := r2.Norm(d.tel.Truth().Axis); c.want == day.Rough && off > day.Goal(set.Telescope)/2+r2.Norm(s.Mark.At)/2 {
			t.Errorf("claimed, and the axis is %.2f mm off", off)
		}
	}
}

// Whenever a person is content before the plug was turned, the mirror is not claimed, be the
// reflection on the mark or not.
func TestContentBeforeThePlugIsNoClaim(t *testing.T) {
	whole := newSession(t, indoors.Demo(2))
	if !whole.until(func(c cue.Cue) bool { return c.Action == cue.HalfTurn }, 600) {
		t.Fatal(whole.script())
	}
	for back := 0.2; back < 5; back += 0.4 {
		d := newSession(t, indoors.Demo(2))
		d.run(whole.t - back)
		if a := d.coach.Hear(command.Finished, d.t); len(a.Cues) != 1 || a.Cues[0].Result != cue.GivenUp {
			t.Errorf("%.1f s before the plug is to be turned: %+v", back, a.Cues)
		}
	}
}

// A person who turns nothing is not asked for ever larger turns, twice the first at most, nor
// for ever.
func TestDeafPersonIsNotAskedForMoreAndMore(t *testing.T) {
	d := newSession(t, indoors.Demo(2))
	d.deaf = cue.Turn
	d.run(600)
	first, most := 0.0, 0.0
	for _, c := range d.said {
		if first == 0 {
			first = c.Turns
		}
		most = max(most, c.Turns)
	}
	if !(first > 0) || most > 2*first || d.result != cue.GivenUp {
		t.Errorf("first %.3f turns, at most %.3f, result %q\n%s", first, most, d.result, d.script())
	}
}

// A mark that is not in the middle of the mirror is told of once, and one that is there not.
func TestMarkOffTheMiddleIsToldOnce(t *testing.T) {
	for _, c := range []struct {
		off  float64
		told int
	}{{0, 0}, {4, 1}} {
		s := indoors.Demo(2)
		s.Mark.At = r2.Vec{X: c.off}
		d := newSession(t, s)
		d.run(600)
		told := 0
		for _, c := range d.said {
			if c.Code == day.CodeMarkOff {
				told++
			}
		}
		if told != c.told {
			t.Errorf("a mark %g mm off the middle is told of %d times\n%s", c.off, told, d.script())
		}
	}
}

// A tone sounds while the secondary is turned, where no reflection is needed; by the mirror it
// falls silent when the reflection has been out of sight for a while.
func TestToneIsOfWhatIsTurned(t *testing.T) {
	turn := func(c cue.Cue) bool { return c.Action == cue.Turn }
	d := newSession(t, indoors.Demo(2))
	hide := func(s *observe.Sight) { s.Down.Reflected = false }
	d.see = hide
	if !d.until(turn, 600) {
		t.Fatal(d.script())
	}
	d.run(d.t + 1)
	if d.tone.State == cue.ToneOff {
		t.Errorf("no tone while the secondary is turned\n%s", d.script())
	}
	d.see = nil
	primary := func(c cue.Cue) bool { return turn(c) && !slices.Contains(day.Screws[:], c.Knob) }
	if !d.until(primary, 600) {
		t.Fatal(d.script())
	}
	if d.run(d.t + 0.2); d.tone.State == cue.ToneOff {
		t.Errorf("no tone while the mirror is turned\n%s", d.script())
	}
	d.see = hide
	if d.run(d.t + 1); d.tone.State != cue.ToneOff {
		t.Errorf("a tone of a reflection that is out of sight\n%s", d.script())
	}
}

// The tone of what is within its goal sounds exactly where the error is below one goal; and the
// estimate of the mirror, in goals of the reflection, which stands twice as far from the mark as
// the axis, has its bound above it.
func TestToneAndEstimateAreInGoals(t *testing.T) {
	set := settings(indoors.Demo(2))
	d := newSession(t, indoors.Demo(2))
	states := map[cue.ToneState]int{}
	known := 0
	for d.t < 600 && d.result == "" {
		d.run(d.t + 1.0/fps)
		if s := d.tone.State; s == cue.ToneInside || s == cue.ToneTrim {
			if states[s]++; (s == cue.ToneInside) != (d.tone.Error < 1) {
				t.Fatalf("an error of %.2f goals, and the tone is %v", d.tone.Error, s)
			}
		}
		if e := d.known; e.Known {
			known++
			if want := 2 * r2.Norm(e.Axis) / day.Goal(set.Telescope); math.Abs(e.Ratio-want) > 1e-9 || e.Bound < e.Ratio {
				t.Fatalf("%+v, want the ratio %.3f", e, want)
			}
		}
	}
	if states[cue.ToneInside] == 0 || states[cue.ToneTrim] == 0 || known == 0 {
		t.Errorf("tones %v, %d estimates", states, known)
	}
}
