package main

import (
	"cmp"
	"context"
	"errors"

	"halocue/audio/command"
	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/guide"
	"halocue/internal/journal"
	"halocue/vision"
)

// greeting is what a night by the wall clock begins with: who has no night in the
// journal, or keeps none, is told what halocue does and the cautions.
func (a *app) greeting(ctx context.Context, g guideFlags, isVirtual bool) []string {
	if isVirtual || g.journal != "none" && a.hasNight(ctx, g.journal) {
		return []string{"starting"}
	}
	return []string{"cautions", "welcome"}
}

func (a *app) hasNight(ctx context.Context, path string) bool {
	j, err := journal.Read(cmp.Or(path, journalPath(a.env)))
	if err != nil {
		return false // none, or none that can be read: the cautions do no harm
	}
	nights, err := j.Nights(ctx)
	return errors.Join(err, j.Close()) == nil && len(nights) > 0
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

// complain says aloud why a night cannot be, where nobody reads it: with --wait
// halocue may run without a screen.
func (a *app) complain(ctx context.Context, c config.Config, err error) error {
	k := &checking{app: a, c: c}
	defer func() { k.sink.Close() }()
	if sound := k.openSound(ctx); sound != nil {
		return err
	}
	return errors.Join(err, k.say(ctx, err.Error()))
}
