package session

import (
	"context"
	"fmt"
	"time"

	"halocue/audio/buttons"
	"halocue/audio/command"
	"halocue/internal/run"
	"halocue/internal/run/parts"
)

// manualCommands are those that come as lines on standard input and from buttons,
// until ctx ends. Reading standard input cannot be woken: that goroutine ends with
// the input, or with the program.
func manualCommands(ctx context.Context, w *parts.World, events chan<- run.DeviceEvent) <-chan command.Command {
	commands := make(chan command.Command, 16)
	say := func(c command.Command) {
		select {
		case commands <- command.Command(c):
		case <-ctx.Done():
		}
	}
	go func() {
		w.Complain(buttons.Lines(w.Stdin, say, func(line string) {
			fmt.Fprintf(w.Stderr, "halocue: %q is no command; there are: %v\n", line, command.All())
		}))
	}()
	go watchButtons(ctx, say, (&remotes{events: events}).event)
	return commands
}

// watchButtons has the service tell what is pressed, also after it was started anew. If
// there is no service at the start, the devices are read here.
func watchButtons(ctx context.Context, say func(command.Command), event func(buttons.Event)) {
	for there := false; ; there = true {
		if err := buttons.Follow(ctx, buttons.Socket, say, event); err != nil && !there {
			buttons.Watch(ctx, buttons.Config{Events: event}, say)
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(time.Second):
		}
	}
}

// remotes reports buttons that went away after they had been used. One that was never
// pressed, such as the switch of a laptop's lid, is not reported.
type remotes struct {
	events chan<- run.DeviceEvent
	gone   bool
}

func (r *remotes) event(e buttons.Event) {
	switch {
	case e.Err != nil && e.Used:
		r.gone = true
		parts.Tell(r.events, run.DeviceEvent{Device: "remote", State: "lost", Detail: e.Err.Error(), Code: "remote-lost", On: true})
	case e.Err == nil && r.gone:
		r.gone = false
		parts.Tell(r.events, run.DeviceEvent{Device: "remote", State: "back", Detail: e.Path, Code: "remote-lost"})
	}
}
