package session

import (
	"context"
	"path/filepath"

	"halocue/config"
	"halocue/internal/platform/board"
	"halocue/internal/run"
	"halocue/internal/run/parts"
)

// watchHost looks after the computer itself, until the returned function is called:
// its lights, where they are to be dark, its power and its memory.
func watchHost(ctx context.Context, w *parts.World, c config.Board, events chan<- run.DeviceEvent) (stop func()) {
	if c.Dark {
		lights, err := board.Dark(w.Root, lightsPath(w.Env))
		w.Dark.Store(lights)
		if err != nil {
			w.Complain(err)
			parts.Tell(events, run.DeviceEvent{Device: "lights", State: "lit", Detail: err.Error()})
		}
	}
	end := beside(ctx, func(ctx context.Context) {
		board.Watch(ctx, board.Watching{Root: w.Root, Tell: func(n board.Need, short bool, details string) {
			state := map[bool]string{true: "short", false: "back"}[short]
			parts.Tell(events, run.DeviceEvent{Device: string(n), State: state, Detail: details, Code: "low-" + string(n), On: short})
		}})
	})
	return func() {
		end()
		w.Complain(w.RestoreLights())
		w.Dark.Store(nil)
	}
}

// lightsPath is the file that keeps the earlier state of the lights. It is in a folder that
// is empty after a restart of the computer, which resets the lights.
func lightsPath(env []string) string {
	for _, name := range []string{"RUNTIME_DIRECTORY", "XDG_RUNTIME_DIR"} {
		if dir := config.Variable(env, name); dir != "" {
			return filepath.Join(dir, "halocue-lights.json")
		}
	}
	return ""
}
