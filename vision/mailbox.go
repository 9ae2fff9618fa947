package vision

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"

	"halocue/vision/frame"
)

// Mailbox is a source with one place: a new frame replaces one that nobody has
// fetched. So a slow consumer sees the newest frame instead of falling behind. Frames
// of more than lent pixels take too much memory to be copied: the source's own is
// handed on, and the source waits until the consumer has done with it.
type Mailbox struct {
	src    Source
	cancel context.CancelFunc
	ended  chan struct{} // closed when the reading goroutine has ended

	dropped atomic.Uint64
	pixels  []float32 // of the frame that was developed last

	mu     sync.Mutex
	full   chan struct{} // holds a token while there is something to fetch
	back   chan struct{} // the source's own frame comes back
	lends  bool          // waits or held is the source's own
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
	m := &Mailbox{src: src, cancel: cancel, ended: make(chan struct{}), full: make(chan struct{}, 1), back: make(chan struct{}, 1)}
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
		final, lent := m.final, m.lends
		m.mu.Unlock()
		m.token()
		if final != nil {
			return
		}
		if lent {
			select {
			case <-m.back:
			case <-ctx.Done():
				return
			}
		}
	}
}

// lent is from how many pixels on a frame is lent: 16 MB.
const lent = 4 << 20

// put copies the frame, which belongs to the source, into a place of ours.
func (m *Mailbox) put(f *frame.Frame) {
	if f.Develop == nil && len(f.Pix) > lent {
		if m.waits != nil {
			m.dropped.Add(1)
		}
		m.waits, m.spare, m.lends = f, nil, true
		return
	}
	into := m.waits
	if into != nil {
		m.dropped.Add(1)
	} else if into, m.spare = m.spare, nil; into == nil {
		into = &frame.Frame{}
	}
	if into.Develop = f.Develop; into.Develop != nil {
		into.Pix = nil // it had those of develop, or shall
	} else {
		into.Resize(f.Width, f.Height)
		copy(into.Pix, f.Pix)
	}
	into.JPEG = append(into.JPEG[:0], f.JPEG...)
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
			if err == nil && f.Develop != nil {
				return m.develop(f)
			}
			return f, err
		}
		select {
		case <-m.full:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// develop makes the pixels of a frame, always in the same place: the consumer has done with
// those of the frame before.
func (m *Mailbox) develop(f *frame.Frame) (*frame.Frame, error) {
	f.Pix = m.pixels
	err := f.Develop(f)
	m.pixels, f.Develop = f.Pix, nil
	if err != nil {
		return nil, err
	}
	return f, nil
}

func (m *Mailbox) fetch(ctx context.Context) (f *frame.Frame, err error, ok bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.lends && m.held != nil && m.waits == nil { // the consumer comes for the next
		m.held, m.lends = nil, false
		m.back <- struct{}{}
	}
	switch {
	case m.closed:
		m.token() // for whoever else waits
		return nil, ErrClosed, true
	case ctx.Err() != nil:
		return nil, ctx.Err(), true
	case m.waits != nil:
		if m.spare = m.held; m.lends {
			m.spare = nil
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
