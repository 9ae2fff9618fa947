package drive

import (
	"fmt"
	"math"

	"halocue/internal/observe"
)

const (
	// Judgement, but for enlarge, which is that of the cue "a quarter larger", and
	// reduce, which undoes it.
	enlarge   = 1.25 // of the ring's radius
	reduce    = 0.8
	nearly    = 0.07 // of the radius wanted
	proof     = 0.15 // of the ring before: growth that proves that focus was passed
	farther   = 2    // such moves more where the ring cannot be measured at once
	tellsRing = 0.06 // change of the radius from which a step's effect is known
	ringShare = 0.12 // of the frame's height: a ring to begin with
	largest   = 0.45 // of the frame's height: beyond that the ring leaves the frame
	startPart = 2000 // the first probe is this part of the focuser's travel
)

// focuserAxis is what is known of a focuser: by how many pixels the ring's radius
// grows with each step, on this side of focus.
type focuserAxis struct {
	motor       Focuser
	least, most float64
	per         float64
	trust       trust
}

// racking changes the ring's size.
type racking struct {
	f    *focuserAxis
	task Task

	began bool
	first float64 // the ring at the start, px
	goal  float64
	last  view
	sent  float64 // steps since last
	probe float64 // not 0: the move was to learn
	leg   int     // of going through: 1 over, 2 the proof
	tries int
	legs  int
	stuck int
}

func (r *racking) next(v view) (act, error) {
	if !r.began {
		r.begin(v)
	} else if a, over, err := r.judge(v); err != nil || over {
		return a, err
	}
	r.last = v
	switch {
	case !v.found && r.task == Larger:
		return r.outOfFocus()
	case !v.found:
		return act{}, ErrNoRing
	case r.f.per == 0:
		return r.learn()
	case r.task == Through:
		r.leg, r.tries = 1, 0
		return r.send(-2 * r.first / r.f.per)
	}
	if math.Abs(v.radius-r.goal) < nearly*r.goal {
		return act{done: true}, nil
	}
	return r.send((r.goal - v.radius) / r.f.per)
}

func (r *racking) begin(v view) {
	r.began, r.first = true, v.radius
	switch {
	case !v.found:
		r.goal = ringShare * float64(v.height)
	case r.task == Larger:
		r.goal = enlarge * v.radius
	default:
		r.goal = reduce * v.radius
	}
}

// learn tries a small move, and one twice as long if the ring did not change.
func (r *racking) learn() (act, error) {
	if r.tries++; r.tries > probes {
		return act{}, ErrNoResponse
	}
	r.double()
	return r.send(r.probe)
}

func (r *racking) double() {
	if r.probe == 0 {
		_, least, most := r.f.motor.Place()
		r.probe = math.Max(1, math.Round((most-least)/startPart))
		if at, _, _ := r.f.motor.Place(); at+16*r.probe > r.f.most {
			r.probe = -r.probe
		}
		return
	}
	r.probe *= 2
}

// outOfFocus moves the focuser until there is a ring, in whichever direction.
func (r *racking) outOfFocus() (act, error) {
	if r.f.per != 0 && r.legs == 0 {
		return r.send(math.Abs(r.goal / r.f.per))
	}
	r.f.per = 0
	return r.learn()
}

func (r *racking) send(steps float64) (act, error) {
	if r.legs++; r.legs > legs {
		return act{}, ErrNoResponse
	}
	steps = math.Round(steps)
	at, _, _ := r.f.motor.Place()
	if to := at + steps; !(to >= r.f.least && to <= r.f.most) {
		return act{}, ErrLimit
	}
	if steps == 0 {
		return act{done: true}, nil
	}
	if err := r.f.motor.Move(steps); err != nil {
		return act{}, err
	}
	r.sent = steps
	return act{said: fmt.Sprintf("focuser %+.0f steps from %.0f", steps, at), busy: r.f.motor.Busy, seconds: 60}, nil
}

// judge compares what the ring did with what it should have done; over says that the
// mission has decided what follows.
func (r *racking) judge(v view) (a act, over bool, err error) {
	switch r.leg {
	case 1:
		further := -proof * r.first / r.f.per
		switch {
		case !v.found && v.seen && r.tries < farther: // burnt out, or blurred
			r.tries++
			a, err = r.send(further)
			return a, true, err
		case !v.found:
			return act{}, true, ErrNoRing
		case v.radius < 0.4*r.first || v.radius > 1.6*r.first:
			return act{}, true, fmt.Errorf("%w: the ring is not as large as it should be", ErrWrongWay)
		}
		r.leg, r.last = 2, v
		a, err = r.send(further)
		return a, true, err
	case 2:
		if !v.found || v.radius-r.last.radius < 0.4*proof*r.first {
			return act{}, true, fmt.Errorf("%w: the ring does not grow beyond focus", ErrWrongWay)
		}
		r.f.per = -r.f.per
		return act{done: true, through: true}, true, nil
	}
	if !r.last.found || !v.found { // out of focus there is a ring, or not yet
		if r.last.found {
			return act{}, true, ErrNoRing
		}
		if v.found && r.probe != 0 { // from here on it must not be doubled any more
			r.probe = math.Copysign(math.Max(1, math.Abs(r.probe)/8), r.probe)
		}
		return act{}, false, nil
	}
	grew := v.radius - r.last.radius
	if r.probe != 0 {
		if math.Abs(grew) > 0.6*r.last.radius {
			return act{}, true, fmt.Errorf("%w: the ring changed by far too much", ErrWrongWay)
		}
		if math.Abs(grew) > math.Max(tellsRing*r.last.radius, math.Max(1.5, 5*math.Hypot(v.radiusSD, r.last.radiusSD))) {
			r.f.per, r.probe = grew/r.sent, 0
		}
		return act{}, false, nil
	}
	ratio := grew / (r.sent * r.f.per)
	switch {
	case ratio < -0.3 || ratio > 2.5:
		return act{}, true, ErrWrongWay
	case ratio < 0.3:
		if r.stuck++; r.stuck > 2 {
			return act{}, true, ErrNoResponse
		}
	default:
		r.stuck = 0
		r.f.per = (r.f.per + grew/r.sent) / 2
	}
	return act{}, false, nil
}

// watch stops a ring that outgrows the frame.
func (r *racking) watch(l observe.Sight) error {
	if l.Found && l.Radius > largest*float64(l.Height) && l.Radius > 1.1*r.last.radius {
		return fmt.Errorf("%w: the ring outgrows the frame", ErrWrongWay)
	}
	return nil
}

func (r *racking) doubted(error) {
	r.f.trust.doubt()
	r.f.per = 0
}
