package day_test

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/coach/day"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/simulate/indoors"
)

func (d *session) heard(code string) bool {
	for _, c := range d.said {
		if c.Code == code {
			return true
		}
	}
	return false
}

// A peephole 2 mm off the middle would put the axis 2 mm off; half a turn of the
// plug finds it out.
func TestOffCentrePeephole(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		s := indoors.Demo(seed)
		s.Peephole = r2.Vec{X: 1.6, Y: -1.2}
		d := newSession(t, s)
		d.run(600)
		claim := day.Goal(settings(s).Telescope)/2 + r2.Norm(s.Mark.At)/2
		if off := r2.Norm(d.tel.Truth().Axis); d.result != day.Rough || off > claim || !d.heard(day.CodePeephole) {
			t.Errorf("scene %d: result %q, the axis is %.2f mm off\n%s", seed, d.result, off, d.script())
		}
	}
}

// Locks are released, each of them, before the first knob of the mirror is turned,
// and snugged before anything is claimed.
func TestLocks(t *testing.T) {
	s := indoors.Demo(2)
	set := settings(s)
	set.Locks = true
	d := sessionWith(t, s, set)
	d.run(600)
	released, snugged := 0, 0
	for _, c := range d.said {
		switch {
		case c.Action == cue.Lock && c.Direction == cue.Release:
			released++
		case c.Action == cue.Lock:
			snugged++
		case c.Action == cue.Turn && !slices.Contains(day.Screws[:], c.Knob) && (released != 3 || snugged != 0):
			t.Errorf("%s turned with %d locks released, %d snugged", c.Knob, released, snugged)
		}
	}
	if d.result != day.Rough || released != 3 || snugged != 3 {
		t.Errorf("result %q, %d released, %d snugged\n%s", d.result, released, snugged, d.script())
	}
}

// Who does not turn the plug hears that the peephole was not checked.
func TestPlugThatIsNotTurned(t *testing.T) {
	d := newSession(t, indoors.Demo(2))
	d.deaf = cue.HalfTurn
	d.run(600)
	if d.result != day.Unchecked || !d.heard(day.CodePlugStays) {
		t.Errorf("result %q\n%s", d.result, d.script())
	}
}

// Without a mark it is told how one is put on; who goes on without is guided by the
// mirror's outline.
func TestNoMark(t *testing.T) {
	s := indoors.Demo(4)
	s.Mark.None, s.Mark.At, s.Spot = true, r2.Vec{}, 8
	d := newSession(t, s)
	d.run(100)
	if d.result != "" || !d.heard(day.CodeNoMark) {
		t.Errorf("result %q without a mark\n%s", d.result, d.script())
	}
	d.coach.Hear(command.Next, d.t)
	d.run(800)
	if off := r2.Norm(d.tel.Truth().Axis); d.result != day.Rough || off > day.Goal(settings(s).Telescope)/2+0.1 {
		t.Errorf("result %q, the axis is %.2f mm off\n%s", d.result, off, d.script())
	}
}

// Who puts none on is not kept for ever: the end says to.
func TestNoMarkAtAll(t *testing.T) {
	s := indoors.Demo(4)
	s.Mark.None, s.Mark.At, s.Spot = true, r2.Vec{}, 8
	d := newSession(t, s)
	d.run(600)
	if last := d.said[len(d.said)-1]; d.result != cue.GivenUp || last.Args["next"] != day.NextMark {
		t.Errorf("result %q, next %v\n%s", d.result, last.Args["next"], d.script())
	}
}

// What cannot be seen is said, and nothing is asked of the hands meanwhile.
func TestReasonsAreSaid(t *testing.T) {
	for why, code := range map[string]string{
		"dark": day.CodeDim, "no-mirror": day.CodeNoMirror, "no-secondary": day.CodeNoRim, "too-bright": cue.CodeSun,
	} {
		d := newSession(t, indoors.Demo(3))
		d.see = func(s *observe.Sight) { *s = observe.Sight{T: s.T, Width: 800, Height: 600, Why: why} }
		d.run(20)
		if !d.heard(code) {
			t.Errorf("%s is not told of", why)
		}
		for _, c := range d.said {
			if c.Action == cue.Turn {
				t.Errorf("%s: a turn is asked for", why)
			}
		}
	}
}

// The Sun is told of at once, in the middle of a turn too, and again.
func TestSunComesFirst(t *testing.T) {
	d := newSession(t, indoors.Demo(3))
	d.run(12)
	from := len(d.said)
	d.see = func(s *observe.Sight) { *s = observe.Sight{T: s.T, Why: "too-bright"} }
	start := d.t
	d.run(start + 20)
	if n := len(d.said) - from; n < 2 || d.said[from].Code != cue.CodeSun || d.begin[from] > start+1 {
		t.Errorf("after the Sun at %.1f:\n%s", start, d.script())
	}
}

// Numbers that are none, and views that come and go, do no harm and make no claim.
func TestOddViews(t *testing.T) {
	d := newSession(t, indoors.Demo(5))
	i := 0
	d.see = func(s *observe.Sight) {
		switch i++; {
		case i%11 == 0:
			s.Down.Spot.X = math.NaN()
		case i%7 == 0:
			s.Found, s.Down, s.Why = false, nil, "unreadable"
		case i%5 == 0:
			s.Down.Reflected = false
		case i%13 == 0:
			s.Down.Primary.X += 40
		}
	}
	d.run(900)
	if off := r2.Norm(d.tel.Truth().Axis); d.result == day.Rough && off > 1.5 {
		t.Errorf("claimed, and the axis is %.2f mm off\n%s", off, d.script())
	}
}

// Pause, repeat of the screw, status and the end by command.
func TestCommands(t *testing.T) {
	d := newSession(t, indoors.Demo(6))
	d.run(12)
	code := func(a cue.Advice) string {
		if len(a.Cues) == 0 {
			return ""
		}
		return a.Cues[0].Code
	}
	for _, c := range []struct {
		cmd  command.Command
		want string
	}{{command.Status, cue.CodeStatus}, {command.Wait, cue.CodeHold}, {command.GoOn, cue.CodeGoingOn}, {command.Finished, day.CodeDone}} {
		a := d.coach.Hear(c.cmd, d.t)
		if got := code(a); got != c.want {
			t.Errorf("%s is answered by %q, want %q", c.cmd, got, c.want)
		}
		if c.cmd == command.Finished && a.Cues[0].Result != cue.GivenUp {
			t.Error("what is not proved is claimed")
		}
	}
}

func TestSettings(t *testing.T) {
	for _, s := range []coach.Settings{{}, {Knobs: []cue.Knob{{Name: "one"}}}} {
		if _, err := day.New(s); err == nil {
			t.Errorf("%+v is taken", s)
		}
	}
}
