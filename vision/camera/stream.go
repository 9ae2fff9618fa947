package camera

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"sync"
	"syscall"
	"time"

	"halocue/internal/plain"
	"halocue/vision"
	"halocue/vision/camera/jpeg"
	"halocue/vision/camera/mjpeg"
	"halocue/vision/frame"
	"halocue/vision/still/size"
)

// later reports whether a stream's frames are handed on undecoded.
func (o Options) later() bool { return o.Undeveloped && !o.Frames }

// stream reads JPEG after JPEG.
type stream struct {
	split *mjpeg.Splitter
	later bool // the frames are handed on undeveloped

	mu     sync.Mutex // guards the two below: frames are developed by another goroutine
	dec    jpeg.Decoder
	closed bool

	live  bool // its end is a loss
	began bool // a picture came
	wake  func()
	free  func()
}

func (s *stream) read(f *frame.Frame) error {
	picture, err := s.split.Next()
	switch {
	case errors.Is(err, mjpeg.ErrBroken):
		return bad(err)
	case errors.Is(err, mjpeg.ErrNoJPEG) && s.live && s.began:
		return lost("it sends something else than JPEG pictures now; check the camera")
	case errors.Is(err, mjpeg.ErrNoJPEG) && s.live:
		return errors.New("it sends no JPEG picture; check that the address is that of the camera's MJPEG stream")
	case errors.Is(err, mjpeg.ErrNoJPEG):
		return err
	case err == io.EOF && s.live:
		return lost("the stream ended; check the camera and its network")
	case err == io.EOF:
		return err
	case err != nil:
		return lost("%v; check the camera and its cable", err)
	}
	f.JPEG = picture
	if s.later {
		f.Develop = s.develop
		_, _, err = size.JPEG(picture) // what can be told without decoding it
		err = wrapBad(err)
	} else {
		err = s.develop(f)
	}
	s.began = s.began || err == nil
	return err
}

// develop decodes a frame's JPEG.
func (s *stream) develop(f *frame.Frame) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	err := s.dec.Decode(f, f.JPEG)
	if s.closed { // the last frame outlives the stream
		s.dec.Close()
	}
	return wrapBad(err)
}

// wrapBad makes an error, if it is one, a bad frame.
func wrapBad(err error) error {
	if err == nil {
		return nil
	}
	return bad(err)
}

func (s *stream) interrupt() { s.wake() }

func (s *stream) release() {
	s.mu.Lock()
	s.dec.Close()
	s.closed = true
	s.mu.Unlock()
	s.free()
}

// openStdin reads the pipe that a camera tool writes to.
func openStdin(o Options) (vision.Source, error) {
	s := &stream{later: o.later(), wake: func() {}, free: func() {}}
	r := o.Stdin
	switch in := r.(type) {
	case nil:
		return nil, errors.New("there is no standard input; pipe a camera tool's MJPEG into this program")
	case *os.File:
		info, err := in.Stat()
		if err != nil {
			return nil, fmt.Errorf("opening standard input: %w; pipe a camera tool's MJPEG into this program", err)
		}
		// Not only a terminal: /dev/null, as services have it, is no camera either.
		if info.Mode()&os.ModeCharDevice != 0 {
			return nil, errors.New("opening standard input: nothing is piped into it; pipe a camera tool's MJPEG into this program")
		}
		w, done, err := wakeable(in)
		if err != nil {
			return nil, fmt.Errorf("opening standard input: %w; pipe a camera tool's MJPEG into this program", err)
		}
		r, s.wake, s.free = w, w.wake, done
	case io.Closer:
		s.wake = func() { in.Close() }
	}
	s.split = mjpeg.NewSplitter(r, 0)
	return newSource(s, traits{name: "standard input", remedy: "check that the camera tool runs and writes MJPEG"}, o), nil
}

// file is a file whose blocked read can be woken.
type file struct{ *os.File }

func (f file) wake() {
	// Regular files know no deadline, and need none: their reads do not block.
	_ = f.SetReadDeadline(time.Unix(1, 0))
}

// wakeable makes f's blocked reads interruptible; done undoes it. A read from an
// inherited pipe blocks its thread in the kernel and cannot be interrupted, unless the
// pipe is made non-blocking and given to the runtime's poller.
func wakeable(f *os.File) (file, func(), error) {
	if f.SetReadDeadline(time.Time{}) == nil {
		return file{f}, func() {}, nil
	}
	info, err := f.Stat()
	if err != nil {
		return file{}, nil, err
	}
	if info.Mode()&(os.ModeNamedPipe|os.ModeSocket) == 0 {
		return file{f}, func() {}, nil
	}
	fd, err := syscall.Dup(int(f.Fd()))
	if err != nil {
		return file{}, nil, err
	}
	syscall.CloseOnExec(fd)
	if err := syscall.SetNonblock(fd, true); err != nil {
		syscall.Close(fd)
		return file{}, nil, err
	}
	dup := os.NewFile(uintptr(fd), f.Name())
	return file{dup}, func() {
		dup.Close()
		_ = syscall.SetNonblock(int(f.Fd()), false) // the flag is shared with f and whoever inherits it
	}, nil
}

// openMJPEGFile reads a recorded MJPEG stream or a named pipe.
func openMJPEGFile(path string, o Options) (vision.Source, error) {
	// Non-blocking: a named pipe nobody writes to yet must not hang the opening.
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("opening the camera: %w; check that you may read it", err)
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("opening the camera: %w; check the file", err)
	}
	t := traits{name: path, remedy: "check what writes to it"}
	var r io.Reader = f
	if info.Mode().IsRegular() {
		t.paced, t.pace = true, o.fps()
	} else {
		r = &namedPipe{f: f}
	}
	w := file{f}
	return newSource(&stream{later: o.later(), split: mjpeg.NewSplitter(r, 0), wake: w.wake, free: sync.OnceFunc(func() { f.Close() })}, t, o), nil
}

// namedPipe waits for the first writer: until he comes, a non-blocking read
// answers "end".
type namedPipe struct {
	f     *os.File
	began bool
}

func (p *namedPipe) Read(b []byte) (int, error) {
	for {
		n, err := p.f.Read(b)
		if n > 0 {
			p.began = true
		}
		if p.began || err != io.EOF {
			return n, err
		}
		time.Sleep(20 * time.Millisecond) // the system has no event for it
	}
}

// openHTTP reads MJPEG from a network camera.
func openHTTP(ctx context.Context, url string, o Options) (vision.Source, error) {
	if o.Patience > 0 {
		var done context.CancelFunc
		ctx, done = context.WithTimeout(ctx, o.Patience)
		defer done()
	}
	ours, cancel := context.WithCancel(context.Background())
	stop := context.AfterFunc(ctx, cancel) // until the headers are here
	defer stop()
	req, err := http.NewRequestWithContext(ours, http.MethodGet, url, nil)
	if err != nil {
		cancel()
		return nil, fmt.Errorf("opening the camera: %w; check the address", err)
	}
	client := http.Client{Transport: &http.Transport{
		Proxy:                  http.ProxyFromEnvironment,
		ResponseHeaderTimeout:  10 * time.Second,
		MaxResponseHeaderBytes: 64 << 10,
		DisableKeepAlives:      true,
	}}
	resp, err := client.Do(req)
	if err != nil {
		cancel()
		if errors.Is(err, syscall.EPERM) {
			return nil, fmt.Errorf("opening the camera: %w; allow the service its address: systemctl edit halocue, [Service], IPAddressAllow=ADDRESS", err)
		}
		return nil, fmt.Errorf("opening the camera: %w; check the address and that the camera is on the network", cmp.Or(ctx.Err(), err))
	}
	if resp.StatusCode != http.StatusOK {
		resp.Body.Close()
		cancel()
		return nil, fmt.Errorf("opening the camera: %s answers %s; check the address and the password", req.URL.Redacted(), plain.Text(resp.Status, 60))
	}
	return newSource(&stream{
		later: o.later(), split: mjpeg.NewSplitter(resp.Body, 0), live: true,
		wake: cancel, free: func() { cancel(); resp.Body.Close() },
	}, traits{name: req.URL.Redacted(), live: true, remedy: "check the camera and its network"}, o), nil
}
