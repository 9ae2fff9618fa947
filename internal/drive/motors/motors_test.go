package motors

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/drive"
	"halocue/internal/indi"
	"halocue/internal/indi/inditest"
)

const (
	scope = "Telescope Simulator"
	focus = "Focuser Simulator"
)

// sky is the star as a camera behind the simulated telescope and focuser would see
// it: the simulators are the real ones of Debian's indi-bin, the star is reckoned
// from where they say that they stand.
type sky struct {
	t      *testing.T
	client *indi.Client
	start  time.Time
	ra0    float64 // hours, of the star
	dec0   float64 // degrees
	focus0 float64 // steps, in focus
	angle  float64 // of the camera, radians
}

func (s *sky) wait(what string, cond func() bool) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.t.Context(), 20*time.Second)
	defer cancel()
	if err := s.client.Wait(ctx, cond); err != nil {
		s.t.Fatalf("waiting for %s: %v", what, err)
	}
}

func (s *sky) number(device, property, element string) float64 {
	p, _ := s.client.Get(device, property)
	return p.Elements[element].Number
}

// newSky connects the simulators as their owner does: pointed at the star, tracking.
func newSky(t *testing.T, address string) *sky {
	t.Helper()
	c, err := indi.Dial(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	s := &sky{t: t, client: c, start: time.Now(), angle: 0.4}
	for _, d := range []string{scope, focus} {
		s.wait(d, func() bool { _, ok := c.Get(d, "CONNECTION"); return ok })
		s.sw(d, "CONNECTION", "CONNECT")
	}
	s.wait("mount", func() bool { _, ok := c.Get(scope, "GUIDE_RATE"); return ok })
	s.wait("focuser", func() bool { _, ok := c.Get(focus, "ABS_FOCUS_POSITION"); return ok })
	s.sw(scope, "ON_COORD_SET", "SYNC")
	s.sw(scope, "TELESCOPE_TRACK_STATE", "TRACK_ON")
	s.set(scope, "EQUATORIAL_EOD_COORD", map[string]float64{"RA": 5, "DEC": 20})
	s.set(scope, "GUIDE_RATE", map[string]float64{"GUIDE_RATE_WE": 1, "GUIDE_RATE_NS": 1})
	s.wait("the star's place", func() bool { return math.Abs(s.number(scope, "EQUATORIAL_EOD_COORD", "DEC")-20) < 0.01 })
	s.ra0, s.dec0 = 5, 20
	s.focus0 = s.number(focus, "ABS_FOCUS_POSITION", "FOCUS_ABSOLUTE_POSITION") - 900
	return s
}

func (s *sky) sw(device, property, element string) {
	if err := s.client.SetSwitch(device, property, element); err != nil {
		s.t.Fatal(err)
	}
}

func (s *sky) set(device, property string, v map[string]float64) {
	if err := s.client.SetNumbers(device, property, v); err != nil {
		s.t.Fatal(err)
	}
}

// look: f = 1000 mm and 3.75 um pixels make 1.29 px of an arc second; 900 steps of
// 5 um from focus make, at F/5, a ring of 120 px.
func (s *sky) look() drive.Look {
	const perSecond = 1000 / 206264.8 / 0.00375
	ra := s.number(scope, "EQUATORIAL_EOD_COORD", "RA")
	dec := s.number(scope, "EQUATORIAL_EOD_COORD", "DEC")
	x := (ra - s.ra0) * 15 * 3600 * math.Cos(s.dec0*math.Pi/180) * perSecond
	y := (dec - s.dec0) * 3600 * perSecond
	sin, cos := math.Sincos(s.angle)
	star := r2.Vec{X: 639.5 + 110 + x*cos - y*sin, Y: 479.5 - 90 + x*sin + y*cos}
	r := math.Abs(s.number(focus, "ABS_FOCUS_POSITION", "FOCUS_ABSOLUTE_POSITION")-s.focus0) * 0.005 / 10 / 0.00375
	return drive.Look{
		T: time.Since(s.start).Seconds(), Width: 1280, Height: 960, Seen: true, Star: star, Found: r > 20, Radius: r,
	}
}

// run has a task done, by the wall clock.
func (s *sky) run(d *drive.Drive, task drive.Task, each func(drive.Look)) (drive.Report, drive.Look) {
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
	m, err := OpenMount(t.Context(), "indi://"+address+"/"+scope)
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
	address, _ := inditest.Server(t, inditest.FreePort(t), "indi_simulator_telescope", "indi_simulator_focus")
	s := newSky(t, address)
	m, f := drivers(t, address)
	d := drive.New(m, f, drive.Limits{})
	off := func(l drive.Look) float64 { return r2.Norm(r2.Sub(l.Star, r2.Vec{X: 639.5, Y: 479.5})) }

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
	if at, _, _ := f.Place(); at > s.focus0 {
		t.Errorf("the focuser stands at %g, focus is at %g", at, s.focus0)
	}

	// The star is where it was at first, and the camera upside down.
	s.angle += math.Pi
	s.ra0, s.dec0 = s.number(scope, "EQUATORIAL_EOD_COORD", "RA"), s.number(scope, "EQUATORIAL_EOD_COORD", "DEC")
	if r, l := s.run(d, drive.Centre, nil); !errors.Is(r.Doubt, drive.ErrWrongWay) || off(l) > 190 {
		t.Errorf("the turned camera: %+v, %.0f px from the middle", r, off(l))
	}
	d.Passed(drive.Centre)
	if r, l := s.run(d, drive.Centre, nil); !r.Done || off(l) > 0.07*960 {
		t.Errorf("after the turn: %+v, %.0f px from the middle", r, off(l))
	}
}

// A move under way is ended at once when the drive is told to, and when the server
// dies the drive says so.
func TestSimulatorsStopped(t *testing.T) {
	t.Parallel()
	address, stop := inditest.Server(t, inditest.FreePort(t), "indi_simulator_telescope", "indi_simulator_focus")
	s := newSky(t, address)
	m, f := drivers(t, address)
	d := drive.New(m, f, drive.Limits{})
	moving := func() bool { p, _ := s.client.Get(scope, west); return p.State == indi.Busy }
	r, _ := s.run(d, drive.Centre, func(drive.Look) {
		if moving() {
			if r := d.Stop(); !errors.Is(r.Doubt, drive.ErrTold) || strings.Contains(r.Doubt.Error(), "failed") {
				t.Errorf("%+v", r)
			}
		}
	})
	if r != (drive.Report{}) {
		t.Fatalf("it went on: %+v", r)
	}
	s.wait("rest", func() bool { return !moving() })
	if p, _ := s.client.Get(scope, "TELESCOPE_TRACK_STATE"); !p.Elements["TRACK_ON"].On {
		t.Error("the mount does not track any more")
	}
	if err := f.Move(40_000); err != nil {
		t.Fatal(err)
	}
	if err := f.Stop(); err != nil {
		t.Error(err)
	}
	s.wait("the focuser's rest", func() bool { busy, err := f.Busy(); return !busy || err != nil })
	if err := f.Move(1e6); err == nil || !strings.Contains(err.Error(), "range") {
		t.Errorf("beyond its range: %v", err)
	}
	if err := m.Nudge([2]float64{60, 0}); err == nil {
		t.Error("a nudge of a minute is taken on")
	}
	r, _ = s.run(d, drive.Centre, func(drive.Look) { stop() })
	if !errors.Is(r.Doubt, indi.ErrGone) {
		t.Errorf("the server died: %+v", r)
	}
}

// A mount at rest is left at rest, and the refusal says what to do.
func TestNotReady(t *testing.T) {
	t.Parallel()
	address, _ := inditest.Server(t, inditest.FreePort(t), "indi_simulator_telescope", "indi_simulator_focus")
	s := newSky(t, address)
	for _, c := range []struct{ property, element, want string }{
		{"TELESCOPE_TRACK_STATE", "TRACK_OFF", "does not track; "}, {"TELESCOPE_PARK", "PARK", "parked; "},
	} {
		s.sw(scope, c.property, c.element)
		s.wait(c.element, func() bool { p, _ := s.client.Get(scope, c.property); return p.Elements[c.element].On })
		if _, err := OpenMount(t.Context(), "indi://"+address+"/"+scope); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.element, err)
		}
	}
	for spec, want := range map[string]string{
		"indi://" + address + "/" + focus: "TELESCOPE_TIMED_GUIDE", "http://" + address: "write indi://HOST/MOUNT",
	} {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if _, err := OpenMount(ctx, spec); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", spec, err)
		}
	}
}
