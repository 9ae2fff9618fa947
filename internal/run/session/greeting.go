package session

import (
	"context"
	"time"

	"halocue/audio/command"
)

// greeting returns the codes with which a night by the wall clock begins. Someone without a
// night in the journal, or without a journal, hears what halocue does, and the cautions;
// someone whose last night was cut off hears that it goes on. With the virtual telescope
// and no journal the cautions are left out.
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
func another(ctx context.Context, commands <-chan command.Command) bool {
	for {
		select {
		case c := <-commands:
			if c == command.GoOn {
				return true
			}
		case <-ctx.Done():
			return false
		}
	}
}
