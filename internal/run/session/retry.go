package session

import (
	"context"
	"errors"
	"fmt"
	"time"

	"halocue/config"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
)

const (
	// tryAgain is the time after which a night that could not begin is tried again,
	// sayAgain the time after which the same reason is said again.
	tryAgain = 5 * time.Second
	sayAgain = time.Minute
)

// RetryUntilReady tries for a night until there is one. Where nobody reads why there is
// none it is said aloud, and again now and then; settings that were mended meanwhile
// are taken. What is hopeless is not tried again. Without a sound device it gives up: whoever started it has to try again.
func RetryUntilReady(ctx context.Context, w *parts.World, hopeless func(error) bool, try func() (config.Config, error)) error {
	last, at := "", time.Time{}
	for {
		c, err := try()
		if err == nil || ctx.Err() != nil || hopeless(err) {
			return err
		}
		if err.Error() != last || time.Since(at) > sayAgain {
			last, at = err.Error(), time.Now()
			if failed := complain(ctx, w, c, err); failed != nil {
				if failed.Error() == err.Error() {
					return err
				}
				return errors.Join(err, failed)
			}
		}
		select {
		case <-time.After(tryAgain):
		case <-ctx.Done():
			return nil
		}
	}
}

// complain prints and says aloud why the night cannot begin.
func complain(ctx context.Context, w *parts.World, c config.Config, why error) error {
	out, err := aloud.Open(ctx, c, "")
	defer func() { out.Close() }()
	if err != nil {
		return err // and why is printed with it
	}
	w.Complain(why)
	return out.Say(ctx, fmt.Sprintf("%v. I try again by myself", why))
}
