package main

import (
	"context"
	"fmt"

	"halocue/audio/buttons"
	"halocue/audio/command"
	"halocue/internal/coach"
	"halocue/internal/guide"
)

// fingers are the commands that come as lines on standard input and from buttons,
// until ctx ends. Reading standard input cannot be woken: that goroutine ends with
// the input, or with the program.
func (a *app) fingers(ctx context.Context, events chan<- guide.DeviceEvent) <-chan coach.Command {
	commands := make(chan coach.Command, 16)
	say := func(c command.Command) {
		select {
		case commands <- coach.Command(c):
		case <-ctx.Done():
		}
	}
	go func() {
		err := buttons.Lines(a.stdin, say, func(line string) {
			fmt.Fprintf(a.stderr, "halocue: %q is no command; there are: %v\n", line, command.All())
		})
		if err != nil {
			fmt.Fprintf(a.stderr, "halocue: %v\n", err)
		}
	}()
	go buttons.Watch(ctx, buttons.Config{Events: (&remotes{events: events}).event}, say)
	return commands
}

// remotes tells of buttons that were used and are gone. One that was never pressed,
// as a laptop's lid, may come and go unsaid.
type remotes struct {
	events chan<- guide.DeviceEvent
	gone   bool
}

func (r *remotes) event(e buttons.Event) {
	switch {
	case e.Err != nil && e.Used:
		r.gone = true
		tell(r.events, guide.DeviceEvent{Device: "remote", State: "lost", Detail: e.Err.Error(), Code: "remote-lost", On: true})
	case e.Err == nil && r.gone:
		r.gone = false
		tell(r.events, guide.DeviceEvent{Device: "remote", State: "back", Detail: e.Path, Code: "remote-lost"})
	}
}
