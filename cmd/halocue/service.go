package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"halocue/audio/command"
	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/guide"
	"halocue/internal/journal"
	"halocue/vision"
)

// greeting is what a night by the wall clock begins with: who has no night in the
// journal, or keeps none, is told what halocue does and the cautions; who was in the
// middle of one, that it goes on.
func (a *app) greeting(ctx context.Context, g guideFlags, isVirtual bool, now time.Time) []string {
	if isVirtual && g.journal == "none" {
		return []string{"starting"}
	}
	nights, interrupted := 0, false
	if g.journal != "none" {
		// A journal that cannot be read is none: the cautions do no harm.
		nights, interrupted, _ = lastNight(ctx, cmp.Or(g.journal, journalPath(a.env)), now)
	}
	switch {
	case nights == 0:
		return []string{"cautions", "welcome"}
	case interrupted:
		return []string{"resuming"}
	}
	return []string{"starting"}
}

// lastNight counts the nights of a journal, and tells whether the last one was cut
// off on this visit to the telescope.
func lastNight(ctx context.Context, path string, now time.Time) (nights int, interrupted bool, err error) {
	j, err := journal.Read(path)
	if err != nil {
		return 0, false, err
	}
	defer j.Close()
	all, err := j.Nights(ctx)
	if err != nil || len(all) == 0 {
		return 0, false, err
	}
	last := all[len(all)-1]
	facts, err := j.Facts(ctx, last.ID)
	if err != nil || len(facts) == 0 || !last.Ended.IsZero() {
		return len(all), false, err
	}
	cut := last.Began.Add(time.Duration(facts[len(facts)-1].T * float64(time.Second)))
	return len(all), now.Sub(cut) < sameVisit, nil
}

// cameraEvents tells of a camera that is opened again and again: one that has not
// been there yet needs other words than one that went away.
func cameraEvents(events chan<- guide.DeviceEvent) func(vision.DeviceState, error) {
	code := "camera-lost"
	return func(s vision.DeviceState, why error) {
		if s != vision.DeviceBack {
			code = map[vision.DeviceState]string{vision.DeviceMissing: "no-camera", vision.DeviceLost: "camera-lost"}[s]
		}
		e := guide.DeviceEvent{Device: "camera", State: string(s), Code: code, On: s != vision.DeviceBack}
		if why != nil {
			e.Detail = why.Error()
		}
		tell(events, e)
	}
}

// another waits after a night until the person wants one more: a press of the
// button, or the word that goes on. It is false when ctx ends first.
func another(ctx context.Context, commands <-chan coach.Command) bool {
	for {
		select {
		case c := <-commands:
			if c == coach.Command(command.GoOn) {
				return true
			}
		case <-ctx.Done():
			return false
		}
	}
}

const (
	// tryAgain is how soon a night that could not be is tried again, sayAgain how
	// soon the same reason is said again.
	tryAgain = 5 * time.Second
	sayAgain = time.Minute
)

// patiently tries for a night until there is one. Where nobody reads why there is
// none it is said aloud, and again now and then; settings that were mended meanwhile
// are taken. Without a sound device it gives up: whoever started it has to try again.
func (a *app) patiently(ctx context.Context, try func() (config.Config, error)) error {
	last, at := "", time.Time{}
	for {
		c, err := try()
		var misused usageError
		if err == nil || ctx.Err() != nil || errors.As(err, &misused) {
			return err
		}
		if err.Error() != last || time.Since(at) > sayAgain {
			last, at = err.Error(), time.Now()
			fmt.Fprintf(a.stderr, "halocue: %v\n", err)
			if failed := a.complain(ctx, c, fmt.Errorf("%w. I try again by myself", err)); failed != nil {
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

// complain says aloud why a night cannot be.
func (a *app) complain(ctx context.Context, c config.Config, why error) error {
	k := &checking{app: a, c: c}
	defer func() { k.sink.Close() }()
	if err := k.openSound(ctx); err != nil {
		return err
	}
	return k.say(ctx, why.Error())
}
