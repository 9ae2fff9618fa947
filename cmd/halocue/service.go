package main

import (
	"cmp"
	"context"
	"errors"
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
