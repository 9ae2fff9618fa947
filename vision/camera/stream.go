package camera

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"sync"
	"time"

	"halocue/internal/frame"
	"halocue/vision"
	"halocue/vision/camera/jpeg"
	"halocue/vision/camera/mjpeg"
)

// stream is JPEG after JPEG from a reader. A goroutine reads one picture ahead of
// nobody: it begins with the next only when Next asks, so that a program that
// feeds frames in step with our answers is not overtaken.
type stream struct {
	clock
	patience time.Duration
	closer   io.Closer // nil: nothing to close
	decoder  jpeg.Decoder
	frame    frame.Frame

	ask    chan struct{}
	got    chan picture
	quit   chan struct{}
	close1 sync.Once
	asked  bool
	final  error
}

type picture struct {
	data []byte
	err  error
}

func newStream(r io.Reader, closer io.Closer, o Options) *stream {
	s := &stream{clock: clock{o: o}, patience: o.Patience, closer: closer,
		ask: make(chan struct{}), got: make(chan picture, 1), quit: make(chan struct{})}
	go s.read(mjpeg.NewSplitter(r, 0))
	return s
}

// read serves one picture for each ask. It ends with the stream, or with Close as
// soon as a read that is under way returns: standard input cannot be woken.
func (s *stream) read(split *mjpeg.Splitter) {
	for {
		select {
		case <-s.ask:
		case <-s.quit:
			return
		}
		data, err := split.Next()
		s.got <- picture{data, err}
		if err != nil && !errors.Is(err, mjpeg.ErrBroken) {
			return
		}
	}
}

// Next decodes the next picture.
func (s *stream) Next(ctx context.Context) (*frame.Frame, error) {
	select {
	case <-s.quit:
		return nil, vision.ErrClosed
	default:
	}
	if s.final != nil {
		return nil, s.final
	}
	if !s.asked { // an ask whose answer was not waited for is still open
		select {
		case s.ask <- struct{}{}:
			s.asked = true
		case <-s.quit:
			return nil, vision.ErrClosed
		}
	}
	var late <-chan time.Time // by the frame clock nothing is late
	if !s.o.Frames {
		timer := time.NewTimer(s.patience)
		defer timer.Stop()
		late = timer.C
	}
	var p picture
	select {
	case p = <-s.got:
		s.asked = false
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-s.quit:
		return nil, vision.ErrClosed
	case <-late:
		return nil, fmt.Errorf("%w: no frame for %v; check the camera and the program that sends its pictures", vision.ErrBadFrame, s.patience)
	}
	if p.err != nil {
		return nil, s.failed(p.err)
	}
	if err := s.decoder.Decode(&s.frame, p.data); err != nil {
		s.seq++
		return nil, fmt.Errorf("%w: %w", vision.ErrBadFrame, err)
	}
	s.frame.Seq, s.frame.T = s.stamp()
	return &s.frame, nil
}

// failed sorts the splitter's errors.
func (s *stream) failed(err error) error {
	switch {
	case errors.Is(err, mjpeg.ErrBroken):
		s.seq++
		return fmt.Errorf("%w: %w", vision.ErrBadFrame, err)
	case errors.Is(err, io.EOF), errors.Is(err, mjpeg.ErrNoJPEG):
		s.final = err
	default:
		s.final = fmt.Errorf("%w: reading the stream: %w; start the program that sends it again", vision.ErrLost, err)
	}
	return s.final
}

// Close ends the stream.
func (s *stream) Close() error {
	var err error
	s.close1.Do(func() {
		close(s.quit)
		if s.closer != nil {
			err = s.closer.Close()
		}
	})
	return err
}

// openHTTP fetches an MJPEG stream.
func openHTTP(ctx context.Context, address string, o Options) (vision.Source, error) {
	ctx, cancel := context.WithCancel(context.WithoutCancel(ctx))
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		cancel()
		return nil, fmt.Errorf("opening %s: %w; check the address", address, err)
	}
	client := &http.Client{Transport: &http.Transport{ResponseHeaderTimeout: o.Patience}}
	resp, err := client.Do(req)
	if err != nil {
		cancel()
		return nil, fmt.Errorf("opening the camera: %w; check the address and that the camera's server runs", err)
	}
	if resp.StatusCode != http.StatusOK {
		cancel()
		resp.Body.Close()
		return nil, fmt.Errorf("opening %s: the server answers %s; check the address", address, resp.Status)
	}
	return newStream(resp.Body, closeFunc(func() error { cancel(); return resp.Body.Close() }), o), nil
}

type closeFunc func() error

func (f closeFunc) Close() error { return f() }
