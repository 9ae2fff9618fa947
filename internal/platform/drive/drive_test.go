package drive

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// Whatever the camera's rotation, mirrored or not, with play in the gears and a
// star that drifts and trembles, the star comes to the middle. A second time it
// goes faster: the axes are known.
func TestCentres(t *testing.T) {
	for seed := range uint64(40) {
		w := newWorld(seed)
		angle := float64(seed) * 2 * math.Pi / 40
		u := r2.Vec{X: 9 * math.Cos(angle), Y: 9 * math.Sin(angle)}
		w.per = [2]r2.Vec{u, {X: -u.Y, Y: u.X}}
		if seed%2 == 1 {
			w.per[1] = r2.Scale(-0.7, w.per[1])
		}
		w.play = [2]float64{0, float64(seed%4) * 0.8}
		w.drift = r2.Vec{X: 0.8, Y: -0.4}
		d := New(w.mount(), nil, Limits{})
		r, first := w.run(d, Centre, nil)
		if !r.Done || w.off() > 0.08*480 {
			t.Errorf("seed %d: %+v, %.0f px from the middle", seed, r, w.off())
			continue
		}
		w.star = r2.Vec{X: 150, Y: 330}
		r, then := w.run(d, Centre, nil)
		if !r.Done || w.off() > 0.08*480 {
			t.Errorf("seed %d: the second time: %+v, %.0f px from the middle", seed, r, w.off())
		}
		if then > first+8 {
			t.Errorf("seed %d: %.0f s, then %.0f s", seed, first, then)
		}
		if w.maxNudge > 5+1e-9 {
			t.Errorf("a nudge of %g s", w.maxNudge)
		}
	}
}

// The ring is made larger, smaller, and led through focus, whichever way the
// focuser counts; and back.
func TestRacks(t *testing.T) {
	for _, perStep := range []float64{0.06, -0.06, 0.011, -0.4} {
		w := newWorld(1)
		w.perStep = perStep
		d := New(nil, w.focuser(), Limits{})
		for _, step := range []struct {
			task Task
			want float64
			side float64
		}{{Larger, 62.5, 1}, {Smaller, 50, 1}, {Through, 57.5, -1}, {Larger, 72, -1}, {Through, 82, 1}} {
			r, took := w.run(d, step.task, nil)
			if got := w.ring * step.side; !r.Done || math.Abs(got-step.want) > 0.1*step.want || r.Through != (step.task == Through) {
				t.Errorf("%g px a step, task %d: %+v after %.1f s, ring %.0f, want %.0f on side %+.0f", perStep, step.task, r, took, w.ring, step.want, step.side)
			}
		}
	}
}

// In focus there is no ring, and none of the sides is known.
func TestOutOfFocus(t *testing.T) {
	w := newWorld(1)
	w.ring = 4
	d := New(nil, w.focuser(), Limits{})
	if r, took := w.run(d, Larger, nil); !r.Done || math.Abs(w.ring) < 25 || math.Abs(w.ring) > 120 {
		t.Errorf("%+v after %.0f s, ring %.0f", r, took, w.ring)
	}
}

// Each line is a doubt: the motors stop, it says why, and the person does it.
func TestDoubts(t *testing.T) {
	lost := errors.New("the server is gone")
	for name, c := range map[string]struct {
		task  Task
		learn bool // before
		world func(*world)
		each  func(*world)
		want  error
	}{
		"dead mount":        {task: Centre, world: func(w *world) { w.dead = true }, want: ErrNoResponse},
		"mount dies":        {task: Centre, learn: true, world: func(w *world) { w.dead = true }, want: ErrNoResponse},
		"one axis twice":    {task: Centre, world: func(w *world) { w.per[1] = w.per[0] }, want: ErrWrongWay},
		"tube flipped":      {task: Centre, learn: true, world: func(w *world) { w.per = [2]r2.Vec{r2.Scale(-1, w.per[0]), r2.Scale(-1, w.per[1])} }, want: ErrWrongWay},
		"camera turned":     {task: Centre, learn: true, world: func(w *world) { w.per = [2]r2.Vec{{X: -5, Y: 8}, {X: -9, Y: -4}} }, want: ErrWrongWay},
		"not tracking":      {task: Centre, world: func(w *world) { w.drift = r2.Vec{X: 15}; w.star.X = 200 }, want: ErrDrifts},
		"star hides":        {task: Centre, each: func(w *world) { w.hidden = w.t > 4 }, want: ErrStarLost},
		"light":             {task: Centre, each: func(w *world) { w.flood = w.t > 4 }, want: ErrBright},
		"never at rest":     {task: Centre, world: func(w *world) { w.stuck = true }, want: ErrRestless},
		"server gone":       {task: Centre, each: func(w *world) { w.broken = lost }, want: lost},
		"focuser slips":     {task: Through, world: func(w *world) { w.locked = true }, want: ErrNoResponse},
		"focuser sticks":    {task: Through, learn: true, world: func(w *world) { w.locked = true }, want: ErrWrongWay},
		"focuser backwards": {task: Through, learn: true, world: func(w *world) { w.perStep *= -1 }, want: ErrWrongWay},
		"hits its end":      {task: Through, world: func(w *world) { w.at, w.to, w.perStep = 59_900, 59_900, -0.001 }, want: ErrLimit},
		"star hides, focus": {task: Through, learn: true, each: func(w *world) { w.hidden = w.at != 20_000 }, want: ErrNoRing},
		"light, focus":      {task: Through, each: func(w *world) { w.flood = w.t > 3 }, want: ErrBright},
	} {
		w := newWorld(1)
		d := New(w.mount(), w.focuser(), Limits{})
		if c.learn {
			first := map[Task]Task{Centre: Centre, Through: Larger}[c.task]
			if r, _ := w.run(d, first, nil); !r.Done {
				t.Fatalf("%s: %v", name, r.Doubt)
			}
			w.star = r2.Vec{X: 480, Y: 120}
		}
		if c.world != nil {
			c.world(w)
		}
		r, took := w.run(d, c.task, func() {
			if c.each != nil {
				c.each(w)
			}
		})
		if !errors.Is(r.Doubt, c.want) || w.stopped == 0 || took > 120 {
			t.Errorf("%s: %v after %.0f s, stopped %d times, want %v", name, r.Doubt, took, w.stopped, c.want)
		}
		if off := w.off(); off > 280 {
			t.Errorf("%s: the star is left %.0f px from the middle", name, off)
		}
	}
}

// After a doubt the person does the next move, and then the axis is learned again; after a
// second doubt it is left alone.
func TestTrust(t *testing.T) {
	w := newWorld(1)
	d := New(w.mount(), nil, Limits{})
	if r, _ := w.run(d, Centre, nil); !r.Done {
		t.Fatal(r.Doubt)
	}
	away := func() { w.star = r2.Vec{X: 480, Y: 120} }
	flip := func() { w.per = [2]r2.Vec{r2.Scale(-1, w.per[0]), r2.Scale(-1, w.per[1])} }
	away()
	flip()
	if r, _ := w.run(d, Centre, nil); !errors.Is(r.Doubt, ErrWrongWay) {
		t.Fatal(r)
	}
	if r, _ := w.run(d, Centre, nil); r.Doubt != errNotTaken {
		t.Errorf("right after a doubt: %+v", r)
	}
	d.Passed(Centre)
	away()
	if r, _ := w.run(d, Centre, nil); !r.Done {
		t.Errorf("after the flip it does not learn anew: %v", r.Doubt)
	}
	away()
	flip()
	w.run(d, Centre, nil)
	d.Passed(Centre)
	if r, _ := w.run(d, Centre, nil); r.Doubt != errNotTaken {
		t.Errorf("after two doubts: %+v", r)
	}
}

// The sum of what the motors do is bounded, however often they are asked.
func TestReach(t *testing.T) {
	w := newWorld(1)
	d := New(w.mount(), w.focuser(), Limits{Reach: 60, Steps: 2000})
	var last error
	for range 30 {
		d.Passed(Centre)
		w.star = r2.Vec{X: 560, Y: 240} // the tube is pushed back by hand
		if r, _ := w.run(d, Centre, nil); r.Doubt != nil {
			last = r.Doubt
			break
		}
	}
	if !errors.Is(last, ErrLimit) || math.Abs(w.net[0]) > 60 || math.Abs(w.net[1]) > 60 {
		t.Errorf("%v after %v s", last, w.net)
	}
	last = nil
	for range 30 {
		r, _ := w.run(d, Larger, nil)
		if last = r.Doubt; last != nil {
			break
		}
	}
	if last == nil || w.farthest > 2000 {
		t.Errorf("%v at %g steps", last, w.farthest)
	}
}

// A stop is obeyed at once, and is no doubt about the motors.
func TestStop(t *testing.T) {
	w := newWorld(1)
	d := New(w.mount(), nil, Limits{})
	l := w.step()
	d.Begin(Centre, l)
	for range 20 {
		d.See(w.step())
	}
	if r := d.Stop(); !errors.Is(r.Doubt, ErrTold) || w.pulse != [2]float64{} || d.now != nil {
		t.Errorf("%+v, still moving %v", r, w.pulse)
	}
	if r := d.Stop(); r != (Report{}) {
		t.Errorf("stopped twice: %+v", r)
	}
	if r, _ := w.run(d, Centre, nil); !r.Done {
		t.Errorf("afterwards: %v", r.Doubt)
	}
}

// A drive with no motors takes on nothing.
func TestNoMotors(t *testing.T) {
	d, l := New(nil, nil, Limits{}), newWorld(1).step()
	for _, task := range []Task{None, Centre, Larger, Smaller, Through} {
		if d.Can(task, l) {
			t.Errorf("task %d", task)
		}
	}
}
