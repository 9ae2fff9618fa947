package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"halocue/config"
	"halocue/internal/drive"
	"halocue/internal/drive/motors"
	"halocue/internal/guide"
)

// motorsAgain is the time between two tries for a mount or focuser that is away.
const motorsAgain = 15 * time.Second

// motors looks for the mount and the focuser of the settings, and again when they
// go away, until the returned function is called. Each time that they are there
// the night gets a drive of them. Without settings it does nothing.
func (a *app) motors(ctx context.Context, c config.Drive, events chan<- guide.DeviceEvent) (drives <-chan *drive.Drive, stop func()) {
	if c.Mount == "" && c.Focuser == "" {
		return nil, func() {}
	}
	ctx, cancel := context.WithCancel(ctx)
	out := make(chan *drive.Drive)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for ctx.Err() == nil {
			a.haveMotors(ctx, c, events, out)
			select {
			case <-time.After(motorsAgain):
			case <-ctx.Done():
			}
		}
	}()
	return out, func() {
		cancel()
		<-done
	}
}

// haveMotors opens what there is of mount and focuser and hands it on, until one
// of them goes.
func (a *app) haveMotors(ctx context.Context, c config.Drive, events chan<- guide.DeviceEvent, out chan<- *drive.Drive) {
	set, err := openMotors(ctx, c)
	defer set.release()
	if ctx.Err() != nil {
		return
	}
	if err != nil {
		tell(events, guide.DeviceEvent{Device: "drive", State: "lost", Detail: err.Error(), Code: "drive-lost", On: true})
		fmt.Fprintf(a.stderr, "halocue: %v\n", err)
	}
	if set.mount == nil && set.focuser == nil {
		return
	}
	if err == nil {
		tell(events, guide.DeviceEvent{Device: "drive", State: "back", Code: "drive-lost"})
	}
	select {
	case out <- set.drive(c):
	case <-ctx.Done():
		return
	}
	set.last(ctx)
}

// motorSet is the mount and the focuser, either of which may be missing.
type motorSet struct {
	mount   *motors.Mount
	focuser *motors.Focuser
}

// openMotors opens what the settings name. What cannot be opened is told, and the
// other is there all the same.
func openMotors(ctx context.Context, c config.Drive) (s motorSet, err error) {
	var errs [2]error
	if c.Mount != "" {
		s.mount, errs[0] = motors.OpenMount(ctx, c.Mount)
	}
	if c.Focuser != "" {
		s.focuser, errs[1] = motors.OpenFocuser(ctx, c.Focuser)
	}
	return s, errors.Join(errs[:]...)
}

func (s motorSet) drive(c config.Drive) *drive.Drive {
	var m drive.Mount
	if s.mount != nil {
		m = s.mount
	}
	var f drive.Focuser
	if s.focuser != nil {
		f = s.focuser
	}
	return drive.New(m, f, drive.Limits{Reach: c.MountReachS, Steps: c.FocuserReachSteps})
}

// last returns when one of the connections ends, or ctx does.
func (s motorSet) last(ctx context.Context) {
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan struct{}, 2)
	waiting := 0
	wait := func(until func(context.Context, func() bool) error) {
		waiting++
		go func() {
			_ = until(ctx, func() bool { return false }) // the drive has said why
			ended <- struct{}{}
		}()
	}
	if s.mount != nil {
		wait(s.mount.Wait)
	}
	if s.focuser != nil {
		wait(s.focuser.Wait)
	}
	<-ended
	cancel()
	for range waiting - 1 {
		<-ended
	}
}

func (s motorSet) release() {
	if s.mount != nil {
		s.mount.Release()
	}
	if s.focuser != nil {
		s.focuser.Release()
	}
}

// tryMotors tells whether mount and focuser answer. Nothing is moved.
func (k *checking) tryMotors(ctx context.Context) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	set, err := openMotors(ctx, k.c.Drive)
	defer set.release()
	if err != nil {
		return "", err
	}
	switch {
	case set.focuser == nil:
		return "The mount answers", nil
	case set.mount == nil:
		return "The focuser answers", nil
	}
	return "Mount and focuser answer", nil
}
