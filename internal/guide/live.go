package guide

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"halocue/internal/coach"
	"halocue/prompts"
	"halocue/vision"
)

// look is what one try for a frame gave.
type look struct {
	sight coach.Sight
	err   error
}

const (
	tickEvery  = 20 * time.Millisecond // how fine the words' begin and end are
	stallAfter = 1.0                   // s without a frame: the camera stalls
)

// Live runs a night by the wall clock: the newest frame wins (wrap the source in
// vision.Newest), and the sound runs by itself. It ends as Frames does.
func Live(ctx context.Context, p Parts) (Outcome, error) {
	n := begin(p)
	start := time.Now()
	now := func() float64 { return time.Since(start).Seconds() }

	seeing, blind := context.WithCancel(ctx)
	looks := make(chan look)
	go n.watch(seeing, now, looks)
	defer func() { n.stopDriving(now()) }()
	defer func() { // the goroutine has ended before the night does
		blind()
		for range looks {
		}
	}()

	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	coming := (<-chan look)(looks)
	seen, stalled := 0.0, false
	for !n.finished && n.failure == nil {
		select {
		case <-ctx.Done():
			return n.sayLast(now, "ending"), n.err(nil)
		case l, ok := <-coming:
			switch {
			case !ok:
				coming = nil // the watcher has said why before
			case errors.Is(l.err, vision.ErrBadFrame):
				seen = now() // it sends
				n.bad(seen)
			case errors.Is(l.err, vision.ErrLost):
				n.device(now(), DeviceEvent{Device: "camera", State: "lost", Detail: l.err.Error()})
				return n.sayLast(now, "camera-lost"), n.err(nil)
			case errors.Is(l.err, io.EOF):
				return n.sayLast(now, "stream-ended"), n.err(nil)
			case l.err != nil && ctx.Err() == nil:
				return n.outcome, fmt.Errorf("reading a frame: %w", l.err)
			case l.err == nil:
				seen = now()
				n.good(l.sight.T, l.sight)
			}
		case c := <-n.Commands:
			n.command(now(), c)
		case e := <-n.Devices:
			n.device(now(), e)
		case d := <-n.Drives:
			n.stopDriving(now())
			n.Drive = d
		case <-tick.C:
		}
		if t := now(); stalled != (t-seen > stallAfter) {
			stalled = !stalled
			n.stopDriving(t)
			n.device(t, DeviceEvent{Device: "camera", State: map[bool]string{true: "stalled", false: "back"}[stalled], Code: "camera-stalled", On: stalled})
		}
		n.speak(ctx, now())
	}
	if n.finished && n.remarked && n.failure == nil {
		return n.sayLast(now, ""), n.err(nil)
	}
	n.outcome.Time = now()
	return n.outcome, n.err(nil)
}

// watch looks through the source until it or the context ends, and closes looks.
func (n *night) watch(ctx context.Context, now func() float64, looks chan<- look) {
	defer close(looks)
	for {
		f, err := n.Source.Next(ctx)
		l := look{err: err}
		if err == nil {
			t := now()
			l.sight = n.look(t, f)
		}
		select {
		case looks <- l:
		case <-ctx.Done():
			return
		}
		if err != nil && !errors.Is(err, vision.ErrBadFrame) {
			return
		}
	}
}

// sayLast says a last word, if there is one, and what is still to be said, by the
// wall clock.
func (n *night) sayLast(now func() float64, code string) Outcome {
	n.stopDriving(now())
	if code != "" {
		n.note(n.Narrator.Add(now(), prompts.Cue{Code: code}))
	}
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	for limit := now() + lastWords; now() < limit && n.failure == nil; <-tick.C {
		n.speak(context.Background(), now())
		if n.Narrator.Idle() {
			break
		}
	}
	n.outcome.Time = now()
	return n.outcome
}
