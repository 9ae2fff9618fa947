package session

import (
	"context"
	"time"

	"halocue/config"
	"halocue/internal/platform/drive"
	"halocue/internal/run"
	"halocue/internal/run/parts"
)

// motorsAgain is the time between two tries for a mount or focuser that is away.
const motorsAgain = 15 * time.Second

// haveMotors looks for the mount and the focuser of the settings, and again when they
// go away, until the returned function is called. Each time that they are there
// the night gets a drive of them. Without settings it does nothing.
func haveMotors(ctx context.Context, w *parts.World, c config.Drive, events chan<- run.DeviceEvent) (drives <-chan *drive.Drive, stop func()) {
	if c.Mount == "" && c.Focuser == "" {
		return nil, func() {}
	}
	out := make(chan *drive.Drive)
	return out, beside(ctx, func(ctx context.Context) {
		for ctx.Err() == nil {
			useMotors(ctx, w, c, events, out)
			select {
			case <-time.After(motorsAgain):
			case <-ctx.Done():
			}
		}
	})
}

// useMotors opens what there is of mount and focuser and hands it on, until one
// of them goes.
func useMotors(ctx context.Context, w *parts.World, c config.Drive, events chan<- run.DeviceEvent, out chan<- *drive.Drive) {
	set, err := parts.OpenMotors(ctx, c)
	defer set.Release()
	if ctx.Err() != nil {
		return
	}
	if err != nil {
		parts.Tell(events, run.DeviceEvent{Device: "drive", State: "lost", Detail: err.Error(), Code: "drive-lost", On: true})
		w.Complain(err)
	}
	if set.Mount == nil && set.Focuser == nil {
		return
	}
	if err == nil {
		parts.Tell(events, run.DeviceEvent{Device: "drive", State: "back", Code: "drive-lost"})
	}
	select {
	case out <- set.Drive(c):
	case <-ctx.Done():
		return
	}
	set.Wait(ctx)
}
