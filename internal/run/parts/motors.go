package parts

import (
	"context"
	"errors"

	"halocue/config"
	"halocue/internal/platform/drive"
	"halocue/internal/platform/drive/motors"
)

// Motors is the mount and the focuser, either of which may be missing.
type Motors struct {
	Mount   *motors.Mount
	Focuser *motors.Focuser
}

// OpenMotors opens what the settings name. What cannot be opened is an
// error, and the other is there all the same.
func OpenMotors(ctx context.Context, c config.Drive) (s Motors, err error) {
	var errs [2]error
	if c.Mount != "" {
		s.Mount, errs[0] = motors.OpenMount(ctx, c.Mount)
	}
	if c.Focuser != "" {
		s.Focuser, errs[1] = motors.OpenFocuser(ctx, c.Focuser)
	}
	return s, errors.Join(errs[:]...)
}

// Drive is what the night sees of them.
func (s Motors) Drive(c config.Drive) *drive.Drive {
	var m drive.Mount
	if s.Mount != nil {
		m = s.Mount
	}
	var f drive.Focuser
	if s.Focuser != nil {
		f = s.Focuser
	}
	return drive.New(m, f, drive.Limits{Reach: c.MountReachS, Steps: c.FocuserReachSteps})
}

// Wait returns when one of the connections ends, or ctx does.
func (s Motors) Wait(ctx context.Context) {
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
	if s.Mount != nil {
		wait(s.Mount.Wait)
	}
	if s.Focuser != nil {
		wait(s.Focuser.Wait)
	}
	<-ended
	cancel()
	for range waiting - 1 {
		<-ended
	}
}

// Release ends the connections.
func (s Motors) Release() {
	if s.Mount != nil {
		s.Mount.Release()
	}
	if s.Focuser != nil {
		s.Focuser.Release()
	}
}
