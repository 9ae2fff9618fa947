package motors

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/observe"
	"halocue/internal/platform/drive"
	"halocue/internal/platform/drive/motors/motorstest"
	"halocue/internal/platform/indi"
)

// sky is the star as a camera behind the simulated telescope and focuser would see it:
// the simulators are those of Debian's indi-bin, and the star's place is calculated from
// the positions that they report.
type sky struct {
	*motorstest.Rig
	t       *testing.T
	start   time.Time
	inFocus float64 // steps
	angle   float64 // of the camera, radians
}

func newSky(t *testing.T) *sky {
	r := motorstest.New(t)
	return &sky{Rig: r, t: t, start: time.Now(), angle: 0.4, inFocus: r.Steps() - 900}
}

// look: f = 1000 mm and 3.75 um pixels make 1.29 px of an arc second; 900 steps of
// 5 um from focus make, at F/5, a ring of 120 px.
func (s *sky) look() observe.Sight {
	const perSecond = 1000 / 206264.8 / 0.00375
	east, north := s.Off()
	x, y := east*perSecond, north*perSecond
	sin, cos := math.Sincos(s.angle)
	star := r2.Vec{X: 639.5 + 110 + x*cos - y*sin, Y: 479.5 - 90 + x*sin + y*cos}
	r := math.Abs(s.Steps()-s.inFocus) * 0.005 / 10 / 0.00375
	return observe.Sight{
		T: time.Since(s.start).Seconds(), Width: 1280, Height: 960, Seen: true, Star: star, Found: r > 20, Radius: r,
	}
}

// run has a task done, by the wall clock.
func (s *sky) run(d *drive.Drive, task drive.Task, each func(observe.Sight)) (drive.Report, observe.Sight) {
	s.t.Helper()
	l := s.look()
	if !d.Can(task, l) {
		s.t.Fatalf("task %d is not taken on", task)
	}
	d.Begin(task, l)
	for end := time.Now().Add(90 * time.Second); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		l = s.look()
		if each != nil {
			each(l)
		}
		r := d.See(l)
		if r.Moved != "" {
			s.t.Logf("%.1f s: star %.0f, ring %.0f: %s", l.T, l.Star, l.Radius, r.Moved)
		}
		if !r.Working {
			return r, l
		}
	}
	s.t.Fatal("no end")
	return drive.Report{}, l
}

func drivers(t *testing.T, address string) (*Mount, *Focuser) {
	t.Helper()
	m, err := OpenMount(t.Context(), "indi://"+address+"/"+motorstest.Scope)
	if err != nil {
		t.Fatal(err)
	}
	f, err := OpenFocuser(t.Context(), "indi://"+address) // the only one needs no name
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.Release)
	t.Cleanup(f.Release)
	return m, f
}

// The real server and simulators: the star is centred, the ring enlarged and led
// through focus; and centred again after the camera was turned by half a turn, as
// after the tube has changed sides of the pier.
func TestSimulators(t *testing.T) {
	t.Parallel()
	s := newSky(t)
	m, f := drivers(t, s.Address)
	d := drive.New(m, f, drive.Limits{})
	off := func(l observe.Sight) float64 { return r2.Norm(r2.Sub(l.Star, r2.Vec{X: 639.5, Y: 479.5})) }

	if r, l := s.run(d, drive.Centre, nil); !r.Done || off(l) > 0.07*960 {
		t.Errorf("centre: %+v, %.0f px from the middle", r, off(l))
	}
	if r, l := s.run(d, drive.Larger, nil); !r.Done || math.Abs(l.Radius-150) > 12 {
		t.Errorf("larger: %+v, ring %.0f px", r, l.Radius)
	}
	before := s.look().Radius
	if r, l := s.run(d, drive.Through, nil); !r.Done || !r.Through || math.Abs(l.Radius-1.15*before) > 0.15*before {
		t.Errorf("through: %+v, ring %.0f px", r, l.Radius)
	}
	if at, _, _ := f.Place(); at > s.inFocus {
		t.Errorf("the focuser stands at %g, focus is at %g", at, s.inFocus)
	}

	// The star is where it was at first, and the camera upside down.
	s.angle += math.Pi
	s.Here()
	if r, l := s.run(d, drive.Centre, nil); !errors.Is(r.Doubt, drive.ErrWrongWay) || off(l) > 190 {
		t.Errorf("the turned camera: %+v, %.0f px from the middle", r, off(l))
	}
	d.Passed(drive.Centre)
	if r, l := s.run(d, drive.Centre, nil); !r.Done || off(l) > 0.07*960 {
		t.Errorf("after the turn: %+v, %.0f px from the middle", r, off(l))
	}
}

// A move under way is ended at once by a stop, and when the server ends the drive says so.
func TestSimulatorsStopped(t *testing.T) {
	t.Parallel()
	s := newSky(t)
	m, f := drivers(t, s.Address)
	d := drive.New(m, f, drive.Limits{})
	r, _ := s.run(d, drive.Centre, func(observe.Sight) {
		if s.Nudging() {
			if r := d.Stop(); !errors.Is(r.Doubt, drive.ErrTold) || strings.Contains(r.Doubt.Error(), "failed") {
				t.Errorf("%+v", r)
			}
		}
	})
	if r != (drive.Report{}) {
		t.Fatalf("it went on: %+v", r)
	}
	s.Await("rest", func() bool { return !s.Nudging() })
	if p, _ := s.Get(motorstest.Scope, "TELESCOPE_TRACK_STATE"); !p.Elements["TRACK_ON"].On {
		t.Error("the mount does not track any more")
	}
	if err := f.Move(40_000); err != nil {
		t.Fatal(err)
	}
	if err := f.Stop(); err != nil {
		t.Error(err)
	}
	s.Await("the focuser's rest", func() bool { busy, err := f.Busy(); return !busy || err != nil })
	if err := f.Move(1e6); err == nil || !strings.Contains(err.Error(), "range") {
		t.Errorf("beyond its range: %v", err)
	}
	if err := m.Nudge([2]float64{60, 0}); err == nil {
		t.Error("a nudge of a minute is taken on")
	}
	r, _ = s.run(d, drive.Centre, func(observe.Sight) { s.Stop() })
	if !errors.Is(r.Doubt, indi.ErrGone) {
		t.Errorf("the server died: %+v", r)
	}
}

// A mount at rest is left at rest, and the refusal says what to do.
func TestNotReady(t *testing.T) {
	t.Parallel()
	s := newSky(t)
	for _, c := range []struct{ property, element, want string }{
		{"TELESCOPE_TRACK_STATE", "TRACK_OFF", "does not track; "}, {"TELESCOPE_PARK", "PARK", "parked; "},
	} {
		s.Switch(motorstest.Scope, c.property, c.element)
		s.Await(c.element, func() bool { p, _ := s.Get(motorstest.Scope, c.property); return p.Elements[c.element].On })
		if _, err := OpenMount(t.Context(), "indi://"+s.Address+"/"+motorstest.Scope); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.element, err)
		}
	}
	for spec, want := range map[string]string{
		"indi://" + s.Address + "/" + motorstest.Focus: "TELESCOPE_TIMED_GUIDE", "http://" + s.Address: "write indi://HOST/MOUNT",
	} {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		if _, err := OpenMount(ctx, spec); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", spec, err)
		}
	}
}
