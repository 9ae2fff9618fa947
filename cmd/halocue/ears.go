package main

import (
	"context"
	"fmt"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/audio/device"
	"halocue/audio/ears"
	"halocue/internal/coach"
	"halocue/internal/guide"
)

// inDelay is how long a sample takes from the air into the program, s: a buffer
// of the sound system and one of PortAudio.
const inDelay = 0.04

// hearing is for ears beside a card that plays the desk.
func hearing(card *device.Card, desk *audio.Desk) ears.Config {
	return ears.Config{
		Delay:  card.Delay() + inDelay,
		Attend: desk.Attend,
		Own: func() (own ears.Own) {
			own.Speaking, own.Hz = desk.Sounding()
			return own
		},
	}
}

// listen puts what is said to the card's microphone among the commands that come
// otherwise, and acknowledges it by a short sound, until the returned function is
// called. Without a recogniser the night goes on without it, and that is said.
func listen(ctx context.Context, card *device.Card, desk *audio.Desk, others <-chan coach.Command, events chan<- guide.DeviceEvent) (all <-chan coach.Command, stop func()) {
	e, err := ears.New(hearing(card, desk))
	if err != nil {
		tell(events, deaf(err))
		return others, func() {}
	}
	ctx, cancel := context.WithCancel(ctx)
	commands := make(chan coach.Command, 16)
	pass := func(c coach.Command) {
		select {
		case commands <- c:
		case <-ctx.Done():
		}
	}
	heard, passed := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(heard)
		defer e.Close()
		var end twice
		err := e.Run(ctx, card.Heard(), func(h ears.Heard) {
			if h.Command == command.Finished && !end.said(h.To) {
				desk.Play(audio.NotUnderstood)
				return
			}
			desk.Play(audio.Understood)
			pass(coach.Command(h.Command))
		})
		if err != nil {
			tell(events, deaf(err))
		}
	}()
	go func() {
		defer close(passed)
		for {
			select {
			case c := <-others:
				pass(c)
			case <-ctx.Done():
				return
			}
		}
	}()
	return commands, func() {
		cancel()
		<-heard
		<-passed
	}
}

// twice is a command that counts when it is said again soon: the end of the night is
// the one that cannot be taken back.
type twice struct{ last float64 }

// sureWithin is how soon, s.
const sureWithin = 20

// said tells whether it counts; at is in seconds, > 0.
func (w *twice) said(at float64) bool {
	sure := w.last > 0 && at-w.last < sureWithin
	w.last = at
	return sure
}

// deaf is the event of a microphone that is of no use.
func deaf(err error) guide.DeviceEvent {
	return guide.DeviceEvent{Device: "microphone", State: "lost", Detail: fmt.Sprint(err), Code: "microphone-lost", On: true}
}
