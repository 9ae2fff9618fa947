// Package motorstest runs the simulated mount and focuser of Debian's indi-bin, pointed
// and tracking as their owner would leave them, and returns their positions, from which
// the place of a star in a camera behind them can be calculated.
package motorstest

import (
	"context"
	"math"
	"testing"
	"time"

	"halocue/internal/platform/indi"
	"halocue/internal/platform/indi/inditest"
)

// The simulators' names.
const (
	Scope = "Telescope Simulator"
	Focus = "Focuser Simulator"
)

// Rig is a client of the simulators, besides the one under test.
type Rig struct {
	*indi.Client
	Address string
	Stop    func() // ends the server

	t       testing.TB
	ra, dec float64 // of the star, hours and degrees
}

// New starts server and simulators. The mount guides at the sidereal rate.
func New(t testing.TB) *Rig {
	t.Helper()
	address, stop := inditest.Server(t, inditest.FreePort(t), "indi_simulator_telescope", "indi_simulator_focus")
	c, err := indi.Dial(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	r := &Rig{Client: c, Address: address, Stop: stop, t: t}
	for _, d := range []string{Scope, Focus} {
		r.Await(d, func() bool { _, ok := c.Get(d, "CONNECTION"); return ok })
		r.Switch(d, "CONNECTION", "CONNECT")
	}
	r.Await("mount", func() bool { _, ok := c.Get(Scope, "GUIDE_RATE"); return ok })
	r.Await("focuser", func() bool { _, ok := c.Get(Focus, "ABS_FOCUS_POSITION"); return ok })
	r.Switch(Scope, "ON_COORD_SET", "SYNC")
	r.Switch(Scope, "TELESCOPE_TRACK_STATE", "TRACK_ON")
	r.numbers(Scope, "EQUATORIAL_EOD_COORD", map[string]float64{"RA": 5, "DEC": 20})
	r.numbers(Scope, "GUIDE_RATE", map[string]float64{"GUIDE_RATE_WE": 1, "GUIDE_RATE_NS": 1})
	r.Await("the star's place", func() bool { return math.Abs(r.number(Scope, "EQUATORIAL_EOD_COORD", "DEC")-20) < 0.01 })
	r.Here()
	return r
}

// Await waits until cond holds.
func (r *Rig) Await(what string, cond func() bool) {
	r.t.Helper()
	ctx, cancel := context.WithTimeout(r.t.Context(), 20*time.Second)
	defer cancel()
	if err := r.Wait(ctx, cond); err != nil {
		r.t.Fatalf("waiting for %s: %v", what, err)
	}
}

// Switch turns a switch of a simulator on.
func (r *Rig) Switch(device, property, element string) {
	r.t.Helper()
	if err := r.SetSwitch(device, property, element); err != nil {
		r.t.Fatal(err)
	}
}

func (r *Rig) numbers(device, property string, v map[string]float64) {
	r.t.Helper()
	if err := r.SetNumbers(device, property, v); err != nil {
		r.t.Fatal(err)
	}
}

func (r *Rig) number(device, property, element string) float64 {
	p, _ := r.Get(device, property)
	return p.Elements[element].Number
}

// Here takes it that the mount points at the star now.
func (r *Rig) Here() {
	r.ra, r.dec = r.number(Scope, "EQUATORIAL_EOD_COORD", "RA"), r.number(Scope, "EQUATORIAL_EOD_COORD", "DEC")
}

// Off is how far the mount has been taken from the star, east and north, arcsec.
func (r *Rig) Off() (east, north float64) {
	ra, dec := r.number(Scope, "EQUATORIAL_EOD_COORD", "RA"), r.number(Scope, "EQUATORIAL_EOD_COORD", "DEC")
	return (ra - r.ra) * 15 * 3600 * math.Cos(r.dec*math.Pi/180), (dec - r.dec) * 3600
}

// Steps is where the focuser stands.
func (r *Rig) Steps() float64 {
	return r.number(Focus, "ABS_FOCUS_POSITION", "FOCUS_ABSOLUTE_POSITION")
}

// Nudging reports whether the mount says that a pulse is under way.
func (r *Rig) Nudging() bool {
	for _, name := range []string{"TELESCOPE_TIMED_GUIDE_NS", "TELESCOPE_TIMED_GUIDE_WE"} {
		if p, _ := r.Get(Scope, name); p.State == indi.Busy {
			return true
		}
	}
	return false
}
