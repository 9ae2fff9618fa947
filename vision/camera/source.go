package camera

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"halocue/vision"
	"halocue/vision/frame"
)

// reader is what each kind of camera brings: blocking reads, one at a time,
// from one goroutine.
type reader interface {
	// read waits for the next picture and puts it into f: size, pixels, White,
	// Name. vision.ErrBadFrame (wrapped) is not final, any other error is.
	read(f *frame.Frame) error
	// interrupt lets a blocked read return soon, where the system allows that.
	// It may be called at any time, also after release.
	interrupt()
	// release gives everything back. It is called once, when no read runs.
	release()
}

// traits are the differences between the kinds that the source must know.
type traits struct {
	name   string // for messages
	live   bool   // silence in mid-stream is a loss: opening again can help
	paced  bool   // by the wall clock, hold frame n back until n/fps
	pace   float64
	remedy string // what to do about silence
}

// source makes a vision.Source of a reader. A goroutine owns the reader and reads only when
// asked, never ahead: a program that feeds frames one by one knows, when the next is taken,
// that the one before has been dealt with.
type source struct {
	r reader
	t traits
	o Options

	ask   chan struct{} // one request
	got   chan error    // its answer; nil: s.frame is filled
	quit  chan struct{}
	ended chan struct{}
	close sync.Once

	// Next's own.
	asked bool
	began bool
	err   error
	timer *time.Timer

	// The goroutine's, and the caller's between an answer and the next request.
	frame frame.Frame
	bad   int // frames that could not be read since one could
	n     uint64
	first time.Time
	last  time.Duration // T of the frame before; the frame itself was the caller's
}

func newSource(r reader, t traits, o Options) *source {
	s := &source{
		r: r, t: t, o: o,
		ask: make(chan struct{}, 1), got: make(chan error, 1),
		quit: make(chan struct{}), ended: make(chan struct{}),
		timer: time.NewTimer(time.Hour),
	}
	s.timer.Stop()
	go s.run()
	return s
}

// Next is vision.Source's.
func (s *source) Next(ctx context.Context) (*frame.Frame, error) {
	switch {
	case s.closed():
		return nil, vision.ErrClosed
	case s.err != nil:
		return nil, s.err
	case ctx.Err() != nil:
		return nil, ctx.Err()
	}
	if !s.asked {
		s.asked = true
		s.ask <- struct{}{}
	}
	var silent <-chan time.Time
	if s.o.Patience > 0 && (!s.began || s.t.live) {
		s.timer.Reset(s.o.Patience)
		defer s.timer.Stop()
		silent = s.timer.C
	}
	select {
	case err := <-s.got:
		s.asked = false
		return s.answer(err)
	case <-s.quit:
		return nil, vision.ErrClosed
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-silent:
		s.err = fmt.Errorf("%s: %w: no picture for %v; %s", s.t.name, vision.ErrLost, s.o.Patience, s.t.remedy)
		s.r.interrupt()
		return nil, s.err
	}
}

func (s *source) answer(err error) (*frame.Frame, error) {
	switch {
	case s.closed():
		return nil, vision.ErrClosed
	case err == nil:
		s.began = true
		return &s.frame, nil
	case !errors.Is(err, vision.ErrBadFrame):
		s.err = err
	}
	return nil, err
}

func (s *source) closed() bool {
	select {
	case <-s.quit:
		return true
	default:
		return false
	}
}

// Close is vision.Source's. A device that hangs is left to its goroutine, which releases
// it if it ever answers; the error says so.
func (s *source) Close() error {
	var err error
	s.close.Do(func() {
		close(s.quit)
		s.r.interrupt()
		select {
		case <-s.ended:
		case <-time.After(800 * time.Millisecond):
			err = fmt.Errorf("closing %s: it does not let go and was left behind; unplug it and plug it in again", s.t.name)
		}
	})
	return err
}

// run owns the reader.
func (s *source) run() {
	defer close(s.ended)
	defer s.r.release()
	for {
		select {
		case <-s.quit:
			return
		case <-s.ask:
		}
		s.rest()
		err := s.r.read(&s.frame)
		if s.bad++; err == nil {
			s.bad = 0
		}
		if err == nil || errors.Is(err, vision.ErrBadFrame) {
			s.stamp()
			s.got <- err
			continue
		}
		if !isEOF(err) {
			err = fmt.Errorf("%s: %w", s.t.name, err)
		}
		s.got <- err
		return
	}
}

// rest waits before the next try with a live device that sends bad frames only: longer
// from one to the next, up to a second. A single one costs no time.
func (s *source) rest() {
	if s.bad < 2 || !s.t.live || s.o.Frames {
		return
	}
	select {
	case <-time.After(min(shortRest<<min(s.bad-2, 10), time.Second)):
	case <-s.quit:
	}
}

const shortRest = 10 * time.Millisecond

// stamp gives frame n its number and time.
func (s *source) stamp() {
	n := s.n
	s.n++
	s.frame.Seq = n
	if s.o.Frames {
		s.frame.T = time.Duration(float64(n) / s.o.fps() * float64(time.Second))
		return
	}
	if s.t.paced && n > 0 {
		due := s.first.Add(time.Duration(float64(n) / s.t.pace * float64(time.Second)))
		select {
		case <-time.After(due.Sub(s.o.Now())):
		case <-s.quit:
		}
	}
	now := s.o.Now()
	if n == 0 {
		s.first = now
	}
	s.last = max(s.last, now.Sub(s.first)) // a clock without its monotonic part may be set back
	s.frame.T = s.last
}

func isEOF(err error) bool { return errors.Is(err, io.EOF) }

// bad makes err a bad frame.
func bad(err error) error { return fmt.Errorf("%w: %w", vision.ErrBadFrame, err) }

// lost makes a sentence the end of a device.
func lost(format string, a ...any) error {
	return fmt.Errorf("%w: %s", vision.ErrLost, fmt.Sprintf(format, a...))
}
