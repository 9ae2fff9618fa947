package vision

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"

	"halocue/internal/frame"
)

// Mailbox is a source with one place: a new frame replaces one that nobody has
// fetched. So a slow consumer sees the newest frame instead of falling behind.
type Mailbox struct {
	src    Source
	cancel context.CancelFunc
	ended  chan struct{} // closed when the reading goroutine has ended

	dropped atomic.Uint64

	mu     sync.Mutex
	full   chan struct{} // holds a token while there is something to fetch
	waits  *frame.Frame  // not fetched yet, or nil
	spare  *frame.Frame  // free for the next frame
	held   *frame.Frame  // with the consumer
	bad    error         // a frame that could not be read, not fetched yet
	final  error
	closed bool
}

// Newest reads src in a goroutine of its own, which ends with the source or with
// Close. The mailbox owns src from now on.
func Newest(src Source) *Mailbox {
	ctx, cancel := context.WithCancel(context.Background())
	m := &Mailbox{src: src, cancel: cancel, ended: make(chan struct{}), full: make(chan struct{}, 1)}
	go m.read(ctx)
	return m
}

// Dropped is the number of frames that were replaced before anyone fetched them.
func (m *Mailbox) Dropped() uint64 { return m.dropped.Load() }

func (m *Mailbox) read(ctx context.Context) {
	defer close(m.ended)
	for {
		f, err := m.src.Next(ctx)
		m.mu.Lock()
		switch {
		case err == nil:
			m.put(f)
		case errors.Is(err, ErrBadFrame):
			m.bad = err
		default:
			m.final = err
		}
		final := m.final
		m.mu.Unlock()
		m.token()
		if final != nil {
			return
		}
	}
}

// put copies the frame, which belongs to the source, into a place of ours.
func (m *Mailbox) put(f *frame.Frame) {
	into := m.waits
	if into != nil {
		m.dropped.Add(1)
	} else if into, m.spare = m.spare, nil; into == nil {
		into = &frame.Frame{}
	}
	into.Resize(f.Width, f.Height)
	copy(into.Pix, f.Pix)
	into.White, into.Seq, into.T, into.Name = f.White, f.Seq, f.T, f.Name
	m.waits = into
}

func (m *Mailbox) token() {
	select {
	case m.full <- struct{}{}:
	default:
	}
}

// Next returns the newest frame that has not been fetched, and waits for one
// where there is none.
func (m *Mailbox) Next(ctx context.Context) (*frame.Frame, error) {
	for {
		if f, err, ok := m.fetch(ctx); ok {
			return f, err
		}
		select {
		case <-m.full:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

func (m *Mailbox) fetch(ctx context.Context) (f *frame.Frame, err error, ok bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch {
	case m.closed:
		m.token() // for whoever else waits
		return nil, ErrClosed, true
	case ctx.Err() != nil:
		return nil, ctx.Err(), true
	case m.waits != nil:
		if m.held != nil {
			m.spare = m.held
		}
		m.held, m.waits = m.waits, nil
		return m.held, nil, true
	case m.bad != nil:
		err, m.bad = m.bad, nil
		return nil, err, true
	case m.final != nil:
		m.token()
		return nil, m.final, true
	}
	return nil, nil, false
}

// Close ends the source and the goroutine that reads it.
func (m *Mailbox) Close() error {
	m.mu.Lock()
	first := !m.closed
	m.closed = true
	m.mu.Unlock()
	m.token()
	if !first {
		return nil
	}
	m.cancel()
	err := m.src.Close()
	<-m.ended
	return err
}
