package camera

import (
	"context"
	"errors"

	"halocue/vision"
	"halocue/vision/camera/exposure"
	"halocue/vision/frame"
)

// adjustable is a reader whose exposure can be set, even while it reads.
type adjustable interface {
	// limits reads the device's limits; longest is how long an exposure may be, s.
	limits(longest float64) (exposure.Limits, exposure.Setting, error)
	set(exposure.Setting) error
}

// auto is a source that keeps its camera's exposure right.
type auto struct {
	vision.Source
	dev     adjustable
	control *exposure.Controller
	tell    func(exposure.Verdict, exposure.Setting, error)
	last    exposure.Verdict
}

// withAuto wraps s where the device can be set: it is switched to manual, set by package
// exposure, and put back at the end.
func withAuto(s vision.Source, dev adjustable, longest float64, o Options) vision.Source {
	limits, now, err := dev.limits(longest)
	if err != nil {
		o.Exposed("", exposure.Setting{}, err)
		return s
	}
	return &auto{Source: s, dev: dev, control: exposure.New(limits, now), tell: o.Exposed}
}

// Next is vision.Source's. A camera that refuses a setting goes on as it is, and the
// refusal is reported.
func (a *auto) Next(ctx context.Context) (*frame.Frame, error) {
	f, err := a.Source.Next(ctx)
	if err != nil || a.control == nil {
		return f, err
	}
	verdict := a.control.Step(exposure.Level(f))
	if verdict == exposure.Changed {
		if err := a.dev.set(a.control.Setting()); err != nil {
			a.tell(verdict, a.control.Setting(), err)
			a.control = nil
			return f, nil
		}
	}
	if verdict != a.last && verdict != exposure.Watching || verdict == exposure.Changed {
		a.last = verdict
		a.tell(verdict, a.control.Setting(), nil)
	}
	return f, nil
}

var errNoExposure = errors.New("its exposure cannot be set here; set it by hand, short, with the ring bright but not white")
