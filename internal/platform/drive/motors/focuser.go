package motors

import (
	"context"
	"errors"
	"fmt"
	"math"

	"halocue/internal/platform/indi"
)

const (
	place = "ABS_FOCUS_POSITION"
	steps = "FOCUS_ABSOLUTE_POSITION"
)

// Focuser is a focuser that knows where it stands.
type Focuser struct{ *indi.Device }

// OpenFocuser opens indi://HOST[:PORT]/FOCUSER.
func OpenFocuser(ctx context.Context, spec string) (*Focuser, error) {
	d, err := indi.OpenDevice(ctx, spec, indi.Focusers, place)
	if err != nil {
		return nil, err
	}
	f := &Focuser{d}
	if _, least, most := f.Place(); !(most > least) {
		d.Release()
		return nil, errors.New("opening the focuser: it does not tell how far it can go; set its range in its driver")
	}
	return f, nil
}

// Place tells where it stands and between which steps it may go.
func (f *Focuser) Place() (at, least, most float64) {
	p, _ := f.Get(f.Name, place)
	e := p.Elements[steps]
	return e.Number, e.Min, e.Max
}

// Move begins to move by so many steps.
func (f *Focuser) Move(by float64) error {
	if err := f.Err(); err != nil {
		return err
	}
	at, least, most := f.Place()
	to := math.Round(at + by)
	if !(to >= least && to <= most) {
		return fmt.Errorf("the focuser cannot go to %g; its range is %g to %g", to, least, most)
	}
	return f.SetNumbers(f.Name, place, map[string]float64{steps: to})
}

// Busy reports whether it moves.
func (f *Focuser) Busy() (bool, error) {
	if err := f.Err(); err != nil {
		return false, err
	}
	p, ok := f.Get(f.Name, place)
	if !ok || p.State == indi.Alert {
		return false, fmt.Errorf("the focuser refuses to move (%s); look at its driver", f.Message(f.Name))
	}
	return p.State == indi.Busy, nil
}

// Stop ends a move that is under way.
func (f *Focuser) Stop() error { return stop(f.Device, "FOCUS_ABORT_MOTION", place) }
