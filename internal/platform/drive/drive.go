// Package drive brings the star back to the middle with a motorised mount, and moves
// through focus with a motorised focuser. It learns from the star what each axis does. It
// never slews: it only makes short nudges and steps, each of them bounded, and their sum
// too. At any doubt it stops, says why, and leaves the work to the person.
//
// It is pure: time comes with each look, and the motors are interfaces.
package drive

import (
	"errors"
	"fmt"
	"math"

	"halocue/internal/observe"
)

// usable returns the sight with a star whose place is no number marked as not seen.
func usable(l observe.Sight) observe.Sight {
	finite := func(x float64) bool { return math.Abs(x) <= 1e6 }
	l.Seen = l.Seen && finite(l.Star.X) && finite(l.Star.Y)
	l.Found = l.Found && l.Seen && l.Radius > 0 && finite(l.Radius)
	return l
}

// Mount is a mount that can be nudged. Nudge returns at once; each nudge must end
// by itself, also when nobody is left to end it.
type Mount interface {
	// Nudge moves the two axes for so many seconds at the guiding rate: > 0 west and
	// north, < 0 east and south, 0 not at all.
	Nudge(seconds [2]float64) error
	// Busy reports whether a nudge is under way; an error, that the mount cannot be
	// relied on any more.
	Busy() (bool, error)
	Stop() error
}

// Focuser is a focuser that counts its steps.
type Focuser interface {
	// Move begins to move by so many steps, either way, and returns at once.
	Move(steps float64) error
	Busy() (bool, error)
	Stop() error
	// Place returns its position and the steps between which it may move.
	Place() (at, least, most float64)
}

// Limits bound what the motors may do. A zero takes the default.
type Limits struct {
	Nudge float64 // the longest single nudge, s; 5
	Reach float64 // how far from where it stood either axis may be taken, seconds of nudging; 300
	Steps float64 // how far from where it stood the focuser may go; a quarter of its range
}

// Task is something that the drive can do for the person.
type Task int

// The tasks.
const (
	None    Task = iota
	Centre       // the star to the frame's middle
	Larger       // the ring larger by a quarter, or out of focus at all
	Smaller      // the ring smaller by a fifth
	Through      // through focus, to a ring of the same size on the other side
)

// Reasons to stop. Each ends what the drive was doing.
var (
	ErrBright     = errors.New("the field is flooded with light")
	ErrStarLost   = errors.New("the star is lost")
	ErrWrongWay   = errors.New("the star goes where it was not sent")
	ErrNoResponse = errors.New("the star does not answer")
	ErrDrifts     = errors.New("the star runs by itself; is the mount tracking?")
	ErrLimit      = errors.New("that is as far as the motor may go")
	ErrRestless   = errors.New("the motor does not come to rest")
	ErrNoRing     = errors.New("there is no ring where one should be")
	ErrTold       = errors.New("it was told to stop")
)

// Report is what became of a task after a look.
type Report struct {
	Working bool
	Done    bool
	Through bool   // done, and the ring's growth proves that focus was passed
	Doubt   error  // it was stopped: why
	Moved   string // what was begun just now, for the journal; or ""
}

// Drive carries out tasks, one at a time. It is for one goroutine.
type Drive struct {
	mount   mountAxes
	focuser focuserAxis

	now  mission // nil: idle
	task Task
	eye  eye
	move func() (bool, error) // whether the motor under way is busy
	end  float64              // by when it must be at rest
}

// mission is a task under way: what it does after each still look at the star.
type mission interface {
	// next judges what the last move did and begins the next.
	next(v view) (act, error)
	// watch looks on while a motor moves.
	watch(l observe.Sight) error
	// doubted says that what was learned may be wrong.
	doubted(err error)
}

// act is what a mission does next.
type act struct {
	done, through bool
	said          string
	busy          func() (bool, error)
	seconds       float64 // how long it may take
}

// New makes a drive of what there is; mount or focuser may be nil.
func New(m Mount, f Focuser, l Limits) *Drive {
	fill := func(v *float64, usual float64) {
		if *v <= 0 {
			*v = usual
		}
	}
	fill(&l.Nudge, 5)
	fill(&l.Reach, 300)
	d := &Drive{mount: mountAxes{motor: m, limits: l}}
	if f != nil {
		at, least, most := f.Place()
		fill(&l.Steps, (most-least)/4)
		d.focuser = focuserAxis{motor: f, least: math.Max(least, at-l.Steps), most: math.Min(most, at+l.Steps)}
	}
	return d
}

// Can reports whether the drive would take on a task now. After a doubt the
// person does the next one of its kind, and after two all of them.
func (d *Drive) Can(t Task, l observe.Sight) bool {
	if l.Flooded() || d.now != nil {
		return false
	}
	switch t {
	case Centre:
		return d.mount.motor != nil && d.mount.trust.willing() && l.Seen
	case Larger:
		return d.focuser.motor != nil && d.focuser.trust.willing()
	case Smaller, Through:
		return d.focuser.motor != nil && d.focuser.trust.willing() && l.Found
	}
	return false
}

// Passed is called when the person does a task that the drive could not.
func (d *Drive) Passed(t Task) {
	if t == Centre {
		d.mount.trust.rest = false
	} else {
		d.focuser.trust.rest = false
	}
}

// Begin takes on a task, which it must be able to do.
func (d *Drive) Begin(t Task, l observe.Sight) Report {
	d.task = t
	d.eye = eye{longest: firstLook, rings: t != Centre}
	if t == Centre {
		d.now = &centring{m: &d.mount}
	} else {
		d.now = &racking{f: &d.focuser, task: t}
	}
	return d.See(l)
}

// See takes in a look and moves on.
func (d *Drive) See(l observe.Sight) Report {
	l = usable(l)
	switch {
	case d.now == nil:
		return Report{}
	case l.Flooded():
		return d.doubt(ErrBright)
	}
	if d.move != nil {
		if err := d.now.watch(l); err != nil {
			return d.doubt(err)
		}
		busy, err := d.move()
		switch {
		case err != nil:
			return d.doubt(err)
		case busy && l.T > d.end:
			return d.doubt(ErrRestless)
		case busy:
			return Report{Working: true}
		}
		d.move = nil
		d.eye = eye{settle: l.T + settleTime, longest: thenLook, rings: d.task != Centre, drift: d.eye.drift, known: d.eye.known}
	}
	v, ready := d.eye.see(l)
	if !ready {
		return Report{Working: true}
	}
	a, err := d.now.next(v)
	switch {
	case err != nil:
		return d.doubt(err)
	case a.done:
		d.now = nil
		return Report{Done: true, Through: a.through}
	}
	d.move, d.end = a.busy, l.T+a.seconds
	return Report{Working: true, Moved: a.said}
}

// Stop ends what is under way, if anything: the motors rest.
func (d *Drive) Stop() Report {
	if d.now == nil {
		return Report{}
	}
	return d.doubt(ErrTold)
}

// doubt stops the motors, both of them, and forgets what may be wrong.
func (d *Drive) doubt(why error) Report {
	if d.mount.motor != nil {
		why = withStop(why, d.mount.motor.Stop())
	}
	if d.focuser.motor != nil {
		why = withStop(why, d.focuser.motor.Stop())
	}
	if !errors.Is(why, ErrTold) {
		d.now.doubted(why)
	}
	d.now, d.move = nil, nil
	return Report{Doubt: why}
}

func withStop(why, err error) error {
	if err == nil {
		return why
	}
	return fmt.Errorf("%w; and stopping it failed: %w; switch the motors off", why, err)
}

// trust is how far an axis is still relied on.
type trust struct {
	doubts int
	rest   bool // the person does the next one
}

func (t *trust) willing() bool { return t.doubts < 2 && !t.rest }

func (t *trust) doubt() {
	t.doubts++
	t.rest = true
}
