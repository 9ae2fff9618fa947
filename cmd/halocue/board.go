package main

import (
	"context"
	"fmt"
	"path/filepath"

	"halocue/config"
	"halocue/internal/board"
	"halocue/internal/guide"
)

// mind looks after the computer itself, until the returned function is called:
// its lights, where they are to be dark, its power and its memory.
func (a *app) mind(ctx context.Context, c config.Config, events chan<- guide.DeviceEvent) (stop func()) {
	if c.Board.Dark {
		lights, err := board.Dark(a.root, lightsPath(a.env))
		a.dark.Store(lights)
		if err != nil {
			fmt.Fprintf(a.stderr, "halocue: %v\n", err)
			tell(events, guide.DeviceEvent{Device: "lights", State: "lit", Detail: err.Error()})
		}
	}
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		board.Watch(ctx, board.Watching{Root: a.root, Tell: func(n board.Need, short bool, details string) {
			state := map[bool]string{true: "short", false: "back"}[short]
			tell(events, guide.DeviceEvent{Device: string(n), State: state, Detail: details, Code: "low-" + string(n), On: short})
		}})
	}()
	return func() {
		cancel()
		<-done
		a.cutShort()
		a.dark.Store(nil)
	}
}

// lightsPath is where it is kept how the lights were: a place that is empty after
// the computer was switched on, when they are what they always were.
func lightsPath(env []string) string {
	for _, name := range []string{"RUNTIME_DIRECTORY", "XDG_RUNTIME_DIR"} {
		if dir := lookup(env, name); dir != "" {
			return filepath.Join(dir, "halocue-lights.json")
		}
	}
	return ""
}
