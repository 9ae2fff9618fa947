package run

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"sync/atomic"
	"time"

	"halocue/internal/observe"
	"halocue/prompts"
	"halocue/vision"
)

// try is what came of asking the source for a frame.
type try struct {
	sight observe.Sight
	took  float64 // to measure it, s
	err   error
}

const (
	tickEvery  = 20 * time.Millisecond // words begin and end on time within this
	stallAfter = 1.0                   // s without a frame: the camera stalls
)

// Live runs a night by the wall clock: the newest frame wins (wrap the source in
// vision.Newest), and the sound runs by itself. It ends as Frames does.
func Live(ctx context.Context, p Parts) (Outcome, error) {
	n := begin(p)
	n.wall = true
	start := time.Now()
	now := func() float64 { return time.Since(start).Seconds() }

	seeing, blind := context.WithCancel(ctx)
	tries := make(chan try)
	var rest atomic.Uint64 // bits of load.rest
	go n.watch(seeing, now, &rest, tries)
	defer func() { n.stopDriving(now()) }()
	defer n.keepPictures()
	defer func() { // the goroutine has ended before the night does
		blind()
		for range tries {
		}
	}()

	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	coming := (<-chan try)(tries)
	seen, stalled, waits := 0.0, false, now()
	var load load
	for !n.finished && n.failure == nil {
		select {
		case <-ctx.Done():
			return n.sayGoodNight(now), n.err()
		case got, ok := <-coming:
			load.measured(got.took)
			switch {
			case !ok:
				coming = nil // the watcher has said why before
			case errors.Is(got.err, vision.ErrBadFrame):
				seen, n.at = now(), 0 // it sends
				n.bad(seen)
			case errors.Is(got.err, vision.ErrLost):
				n.device(now(), DeviceEvent{Device: "camera", State: "lost", Detail: got.err.Error()})
				return n.sayLast(ctx, now, "camera-lost"), n.err()
			case errors.Is(got.err, io.EOF):
				return n.sayLast(ctx, now, "stream-ended"), n.err()
			case got.err != nil && ctx.Err() == nil:
				return n.outcome, fmt.Errorf("reading a frame: %w", got.err)
			case got.err == nil:
				seen = now()
				n.at = round(seen, 6)
				n.good(got.sight.T, got.sight)
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
		load.waited(now() - waits)
		if t := now(); stalled != (t-seen > stallAfter) {
			stalled = !stalled
			n.stopDriving(t)
			n.device(t, DeviceEvent{Device: "camera", State: map[bool]string{true: "stalled", false: "back"}[stalled], Code: "camera-stalled", On: stalled})
		}
		n.keepUp(now(), &load)
		rest.Store(math.Float64bits(load.rest))
		n.speak(ctx, now())
		waits = now()
	}
	if n.finished && n.remarked && n.failure == nil {
		return n.sayLast(ctx, now, ""), n.err()
	}
	n.outcome.Time = now()
	return n.outcome, n.err()
}

// keepUp says, once a night, that the computer does not keep up.
func (n *night) keepUp(t float64, l *load) {
	short, news := l.judge(t)
	if !news {
		return
	}
	e := DeviceEvent{Device: "computer", State: map[bool]string{true: "short", false: "back"}[short], Code: "overload", On: short}
	if n.Narrator.Heard(e.Code) {
		e.Code = ""
	}
	n.device(t, e)
}

// watch measures the source's frames until it or the context ends, and closes tries. It rests
// after each for as long as rest, the bits of a number, times what measuring took.
func (n *night) watch(ctx context.Context, now func() float64, rest *atomic.Uint64, tries chan<- try) {
	defer close(tries)
	for {
		f, err := n.Source.Next(ctx)
		got := try{err: err}
		if err == nil {
			t := now()
			got.sight = n.measure(t, f)
			got.took = now() - t
		}
		select {
		case tries <- got:
		case <-ctx.Done():
			return
		}
		if err != nil && !errors.Is(err, vision.ErrBadFrame) {
			return
		}
		if s := got.took * math.Float64frombits(rest.Load()); s > 0 {
			select {
			case <-time.After(time.Duration(min(s, longestRest) * float64(time.Second))):
			case <-ctx.Done():
				return
			}
		}
	}
}

// sayGoodNight ends a night that is interrupted: it drops what is still to be said, and
// says only good night.
func (n *night) sayGoodNight(now func() float64) Outcome {
	n.Mixer.Hush()
	n.ended(now())
	n.forgo()
	n.Narrator.Clear()
	return n.sayUntil(context.Background(), now, "ending", now()+goodNight)
}

// goodNight is how long that may take, s.
const goodNight = 2

// sayLast says a last word, if there is one, and what is still to be said, by the
// wall clock.
func (n *night) sayLast(ctx context.Context, now func() float64, code string) Outcome {
	return n.sayUntil(ctx, now, code, now()+lastWords)
}

func (n *night) sayUntil(ctx context.Context, now func() float64, code string, limit float64) Outcome {
	n.stopDriving(now())
	if code != "" {
		n.note(n.Narrator.Add(now(), prompts.Cue{Code: code}))
	}
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	for now() < limit && n.failure == nil {
		if ctx.Err() != nil {
			return n.sayGoodNight(now)
		}
		n.speak(context.Background(), now())
		if n.Narrator.Idle() {
			break
		}
		<-tick.C
	}
	n.outcome.Time = now()
	return n.outcome
}
