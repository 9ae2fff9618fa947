// Package motors are mounts and focusers on an INDI server, as package drive wants
// them. Property names: INDI standard properties (libindi, "Telescope", "Guide" and
// "Focuser" interfaces).
//
// A mount is only ever given timed guiding pulses. The mount itself ends each, so
// that nothing runs on when the connection, halocue or its computer dies.
package motors

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"halocue/internal/platform/indi"
)

const (
	north = "TELESCOPE_TIMED_GUIDE_NS"
	west  = "TELESCOPE_TIMED_GUIDE_WE"

	longestNudge = 10.0 // s
	overtime     = 2.0  // s after a pulse's end after which the mount must say that it is over
)

// Mount is a mount that takes timed guiding pulses.
type Mount struct {
	*indi.Device
	now  func() time.Time
	ends time.Time // of the pulse under way
}

// OpenMount opens indi://HOST[:PORT]/MOUNT. A parked mount, or one that does not track, is
// refused: halocue does not unpark a mount.
func OpenMount(ctx context.Context, spec string) (*Mount, error) {
	d, err := indi.OpenDevice(ctx, spec, indi.Telescopes, north, west)
	if err != nil {
		return nil, err
	}
	m := &Mount{Device: d, now: time.Now}
	if err := m.ready(); err != nil {
		d.Release()
		return nil, fmt.Errorf("opening the mount: %w", err)
	}
	return m, nil
}

func (m *Mount) ready() error {
	if err := m.Err(); err != nil {
		return err
	}
	if !m.Connected() {
		return fmt.Errorf("the driver has lost %s; check its cable and power", m.Name)
	}
	if p, ok := m.Get(m.Name, "TELESCOPE_PARK"); ok && p.Elements["PARK"].On {
		return errors.New("the mount is parked; point it at the star and let it track first")
	}
	if p, ok := m.Get(m.Name, "TELESCOPE_TRACK_STATE"); ok && !p.Elements["TRACK_ON"].On {
		return errors.New("the mount does not track; point it at the star and let it track first")
	}
	return nil
}

// Nudge sends one pulse to each axis that has a part in it.
func (m *Mount) Nudge(seconds [2]float64) error {
	if err := m.ready(); err != nil {
		return err
	}
	longest := 0.0
	for i, axis := range []struct{ property, plus, minus string }{
		{west, "TIMED_GUIDE_W", "TIMED_GUIDE_E"}, {north, "TIMED_GUIDE_N", "TIMED_GUIDE_S"},
	} {
		s := math.Abs(seconds[i])
		if !(s <= longestNudge) {
			return fmt.Errorf("a nudge of %g s is more than a mount is ever given; this is a mistake in halocue", seconds[i])
		}
		longest = math.Max(longest, s)
		values := map[string]float64{axis.plus: math.Round(1000 * s), axis.minus: 0}
		if seconds[i] < 0 {
			values = map[string]float64{axis.minus: math.Round(1000 * s), axis.plus: 0}
		}
		if s == 0 {
			continue
		}
		if err := m.SetNumbers(m.Name, axis.property, values); err != nil {
			return err
		}
	}
	m.ends = m.now().Add(time.Duration(longest * float64(time.Second)))
	return nil
}

// Busy reports whether a pulse is under way, by the clock and by what the mount says.
func (m *Mount) Busy() (bool, error) {
	if err := m.Err(); err != nil {
		return false, err
	}
	late := m.now().Sub(m.ends).Seconds()
	for _, name := range []string{north, west} {
		p, ok := m.Get(m.Name, name)
		switch {
		case !ok, p.State == indi.Alert:
			return false, fmt.Errorf("the mount refuses the nudge (%s); look at its driver", m.Message(m.Name))
		case p.State == indi.Busy && late > overtime:
			return false, errors.New("the mount does not end its nudge; look at its driver")
		case p.State == indi.Busy:
			return true, nil
		}
	}
	return late < 0, nil
}

// Stop ends a pulse that is under way, by an abort: not every driver obeys a pulse of
// length 0.
func (m *Mount) Stop() error { return stop(m.Device, "TELESCOPE_ABORT_MOTION", north, west) }

// stop aborts what moves, if one of the properties is busy.
func stop(d *indi.Device, abort string, properties ...string) error {
	if err := d.Err(); err != nil {
		return err
	}
	for _, name := range properties {
		if p, ok := d.Get(d.Name, name); ok && p.State == indi.Busy {
			return d.SetSwitch(d.Name, abort, "ABORT")
		}
	}
	return nil
}
