package session

import (
	"context"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/audio/device"
	"halocue/audio/ears"
	"halocue/internal/run"
	"halocue/internal/run/parts"
)

// listen puts what is said to the card's microphone among the commands that come
// otherwise, and acknowledges it by a short sound, until the returned function is
// called. Without a recogniser the night goes on without it, and that is said.
func listen(ctx context.Context, card *device.Card, mixer *audio.Mixer, others <-chan command.Command, events chan<- run.DeviceEvent) (all <-chan command.Command, stop func()) {
	e, err := ears.New(parts.Ears(card, mixer))
	if err != nil {
		parts.Tell(events, parts.Deaf(err))
		return others, func() {}
	}
	commands := make(chan command.Command, 16)
	pass := func(ctx context.Context, c command.Command) {
		select {
		case commands <- c:
		case <-ctx.Done():
		}
	}
	deafen := beside(ctx, func(ctx context.Context) {
		defer e.Close()
		var end twice
		err := e.Run(ctx, card.Heard(), func(h ears.Heard) {
			if h.Command == command.Finished && !end.said(h.To) {
				mixer.Play(audio.NotUnderstood)
				return
			}
			mixer.Play(audio.Understood)
			pass(ctx, command.Command(h.Command))
		})
		if err != nil {
			parts.Tell(events, parts.Deaf(err))
		}
	})
	leave := beside(ctx, func(ctx context.Context) {
		for {
			select {
			case c := <-others:
				pass(ctx, c)
			case <-ctx.Done():
				return
			}
		}
	})
	return commands, func() {
		deafen()
		leave()
	}
}

// twice is a command that counts only when it is said again soon: the end of the night,
// which cannot be taken back.
type twice struct{ last float64 }

// sureWithin is how soon, s.
const sureWithin = 20

// said reports whether it counts; at is in seconds, > 0.
func (w *twice) said(at float64) bool {
	sure := w.last > 0 && at-w.last < sureWithin
	w.last = at
	return sure
}
