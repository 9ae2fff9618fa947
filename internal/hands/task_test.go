package hands

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// A task is open from when it is asked for until it is settled.
func TestTaskIsOpenUntilSettled(t *testing.T) {
	if (&Task{}).Open() {
		t.Error("open, and nothing was asked for")
	}
	task := Task{Kind: Turning}
	for now, c := range []struct {
		phase Phase
		open  bool
	}{{Waiting, true}, {Moving, true}, {Settled, false}} {
		if task.Enter(c.phase, float64(now)); task.Open() != c.open || task.Since != float64(now) {
			t.Errorf("%+v: open %v", task, task.Open())
		}
	}
}

// The last points are those of the span, and two at least where there are two.
func TestLastPointsOfASpan(t *testing.T) {
	k := NewTrack(1000)
	for i := range 30 {
		k.Add(float64(i)/10, r2.Vec{})
		if want := min(i+1, 4); len(k.Last(0.35)) != want {
			t.Errorf("after %d points %d are of the last 0.35 s, want %d", i+1, len(k.Last(0.35)), want)
		}
		if want := min(i+1, 2); len(k.Last(0)) != want {
			t.Errorf("after %d points %d are the last", i+1, len(k.Last(0)))
		}
	}
}
