package session

import (
	"context"
	"time"

	"halocue/audio/command"
	"halocue/internal/cue"
)

// greeting is what a night by the wall clock begins with: who has no night in the
// journal, or keeps none, is told what halocue does and the cautions; who was in the
// middle of one, that it goes on. There is nothing to take care of where all is virtual.
func greeting(ctx context.Context, path string, isVirtual bool, now time.Time) []string {
	if isVirtual && path == "none" {
		return []string{"welcome"}
	}
	nights, interrupted := 0, false
	if path != "none" {
		// A journal that cannot be read is none: the cautions do no harm.
		nights, interrupted, _ = lastNight(ctx, path, now)
	}
	switch {
	case nights == 0:
		return []string{"cautions", "welcome"}
	case interrupted:
		return []string{"resuming"}
	}
	return []string{"starting"}
}

// another waits after a night until the person wants one more: a press of the
// button, or the word that goes on. It is false when ctx ends first.
func another(ctx context.Context, commands <-chan cue.Command) bool {
	for {
		select {
		case c := <-commands:
			if c == cue.Command(command.GoOn) {
				return true
			}
		case <-ctx.Done():
			return false
		}
	}
}
