package vision

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"halocue/vision/frame"
)

// DeviceState is what a Reopener tells about its device.
type DeviceState string

// The states. Lost and Missing are told once each, then Back.
const (
	DeviceMissing DeviceState = "missing" // it has not been there yet
	DeviceLost    DeviceState = "lost"    // it was there and went away
	DeviceBack    DeviceState = "back"    // it delivers again, or for the first time after Missing
)

// ReopenOptions say how a Reopener tries again.
type ReopenOptions struct {
	// Event is told what happens to the device, from within Next: it must not
	// block. Why says in words why it is lost or missing. nil: nobody is told.
	Event func(state DeviceState, why error)

	// Wait is the pause before another attempt, after one that gave no good frame; it
	// doubles up to MaxWait until one came. 0 means half a second, and 5 s.
	Wait, MaxWait time.Duration

	// Now is the clock; nil means time.Now.
	Now func() time.Time
}

// Reopener is a source that opens its device again where it went away, or where one that
// gave good frames now sends something else: ErrLost never comes out of it. While the
// device is away, Next waits.
type Reopener struct {
	open func(context.Context) (Source, error)
	o    ReopenOptions
	quit chan struct{}

	mu     sync.Mutex // guards src and closed
	src    Source
	closed bool

	// Next's own.
	away    DeviceState   // "" while it delivers
	tried   bool          // to open it, since the last good frame
	wait    time.Duration // before the next attempt
	last    time.Time     // of the attempts
	started bool
	start   time.Time     // of the first frame
	baseT   time.Duration // of the present device's first frame
	fresh   bool          // the present device has not delivered yet
	baseSeq uint64
	lastT   time.Duration
	nextSeq uint64
}

// Reopen makes a source of open, which is called for each attempt; its context
// ends with Close. First is the device where it is open already, else nil.
func Reopen(first Source, open func(context.Context) (Source, error), o ReopenOptions) *Reopener {
	if o.Event == nil {
		o.Event = func(DeviceState, error) {}
	}
	if o.Wait <= 0 {
		o.Wait = 500 * time.Millisecond
	}
	if o.MaxWait < o.Wait {
		o.MaxWait = max(o.Wait, 5*time.Second)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Reopener{open: open, o: o, quit: make(chan struct{}), src: first, fresh: true}
}

// Next is Source's. Times go on over a gap as the clock does.
func (r *Reopener) Next(ctx context.Context) (*frame.Frame, error) {
	for {
		src, err := r.device(ctx)
		if err != nil {
			return nil, err
		}
		f, err := src.Next(ctx)
		switch {
		case err == nil:
			r.stamp(f)
			r.tried = false
			if r.away != "" {
				r.away = ""
				r.o.Event(DeviceBack, nil)
			}
			return f, nil
		case r.isClosed():
			return nil, ErrClosed
		case !errors.Is(err, ErrLost) && (!r.started || ctx.Err() != nil || err == io.EOF || errors.Is(err, ErrBadFrame)):
			return nil, err
		}
		r.lost(DeviceLost, errors.Join(err, r.drop()))
	}
}

// device is the open device; where there is none it is opened, however long
// that takes.
func (r *Reopener) device(ctx context.Context) (Source, error) {
	for {
		r.mu.Lock()
		src, closed := r.src, r.closed
		r.mu.Unlock()
		switch {
		case closed:
			return nil, ErrClosed
		case src != nil:
			return src, nil
		case ctx.Err() != nil:
			return nil, ctx.Err()
		}
		if err := r.pause(ctx); err != nil {
			return nil, err
		}
		if err := r.attempt(ctx); err != nil && !errors.Is(err, ErrClosed) {
			r.lost(DeviceMissing, err)
		}
	}
}

// pause waits before an attempt, and longer from one to the next, also where the device
// opens each time and gives nothing. Before the first since a good frame it only sees to
// it that there are not too many a second: some give one frame at a time.
func (r *Reopener) pause(ctx context.Context) error {
	wait := r.wait
	if !r.tried {
		r.tried, r.wait = true, r.o.Wait
		wait = time.Until(r.last.Add(r.o.Wait / 5))
	} else {
		r.wait = min(2*r.wait, r.o.MaxWait)
	}
	select {
	case <-time.After(wait):
	case <-r.quit:
	case <-ctx.Done():
		return ctx.Err()
	}
	r.last = time.Now()
	return nil
}

func (r *Reopener) attempt(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		select {
		case <-r.quit:
			cancel()
		case <-stop:
		}
	}()
	src, err := r.open(ctx)
	if err != nil {
		return err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errors.Join(ErrClosed, src.Close())
	}
	r.src, r.fresh = src, true
	return nil
}

// lost tells once that the device is away.
func (r *Reopener) lost(state DeviceState, why error) {
	if r.away == "" {
		r.away = state
		r.o.Event(state, why)
	}
}

// drop closes the device that went away.
func (r *Reopener) drop() error {
	r.mu.Lock()
	src := r.src
	r.src = nil
	r.mu.Unlock()
	if err := src.Close(); err != nil {
		return fmt.Errorf("closing what is left of it: %w", err)
	}
	return nil
}

// stamp continues number and time over the devices.
func (r *Reopener) stamp(f *frame.Frame) {
	if r.fresh {
		r.fresh = false
		now := r.o.Now()
		if !r.started {
			r.started, r.start = true, now
		}
		r.baseSeq = r.nextSeq
		r.baseT = max(r.lastT, now.Sub(r.start)) - f.T
	}
	f.Seq += r.baseSeq
	f.T = max(r.lastT, f.T+r.baseT)
	r.nextSeq, r.lastT = f.Seq+1, f.T
}

func (r *Reopener) isClosed() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.closed
}

// Close ends the device and a waiting Next.
func (r *Reopener) Close() error {
	r.mu.Lock()
	first, src := !r.closed, r.src
	r.closed = true
	r.mu.Unlock()
	if !first {
		return nil
	}
	close(r.quit)
	if src == nil {
		return nil
	}
	return src.Close()
}
