package camera

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"
	"unsafe"

	"gocv.io/x/gocv"

	"halocue/internal/frame"
	"halocue/vision"
)

// capture is what OpenCV can open: a V4L2 device, a video file, a GStreamer
// pipeline. OpenCV blocks for as long as a device hangs, so a goroutine of its
// own does the reading; it alone touches the device and its matrices.
type capture struct {
	clock
	name   string
	device bool // it can go away, and may be late; a file ends
	pace   time.Duration
	next   time.Time
	closed chan struct{}
	once   sync.Once
	ask    chan *frame.Frame
	got    chan error
	done   chan struct{}
	asked  bool
	frame  frame.Frame
	final  error
}

// openCapture opens spec; path is the device or file behind it, "" for a pipeline.
func openCapture(name, spec string, o Options) (vision.Source, error) {
	api := gocv.VideoCaptureFFmpeg
	s := &capture{clock: clock{o: o}, name: name,
		closed: make(chan struct{}), ask: make(chan *frame.Frame), got: make(chan error, 1), done: make(chan struct{})}
	switch {
	case strings.Contains(spec, " ! "):
		api, s.device = gocv.VideoCaptureGstreamer, true
	case strings.HasPrefix(spec, "/dev/"):
		api, s.device = gocv.VideoCaptureV4L2, true
		if _, err := os.Stat(spec); err != nil {
			return nil, fmt.Errorf("opening the camera: there is no %s; plug it in, or see which there are with: ls /dev/video*", spec)
		}
	}
	if !s.device && !o.Frames {
		s.pace = time.Duration(float64(time.Second) / o.FPS)
	}
	opened := make(chan error, 1)
	go s.run(spec, api, opened)
	select {
	case err := <-opened:
		if err != nil {
			return nil, err
		}
		return s, nil
	case <-time.After(o.Patience):
		s.Close()
		return nil, fmt.Errorf("opening %s: nothing happens for %v; unplug the camera and plug it in again", name, o.Patience)
	}
}

// pipeline lets a GStreamer pipeline end in frames for us.
func pipeline(spec string) string {
	if strings.Contains(spec, "appsink") {
		return spec
	}
	return spec + " ! videoconvert ! video/x-raw,format=GRAY8 ! appsink sync=false"
}

// run owns the device: it opens it, reads a frame for each ask, and closes it.
func (s *capture) run(spec string, api gocv.VideoCaptureAPI, opened chan<- error) {
	defer close(s.done)
	dev, err := gocv.OpenVideoCaptureWithAPI(spec, api)
	if err != nil || !dev.IsOpened() {
		if err == nil {
			dev.Close()
		}
		opened <- fmt.Errorf("opening %s: it gives no pictures; %s", s.name, s.remedy())
		return
	}
	defer dev.Close()
	opened <- nil
	colour, grey := gocv.NewMat(), gocv.NewMat()
	defer colour.Close()
	defer grey.Close()
	for {
		select {
		case f := <-s.ask:
			s.got <- read(dev, f, &colour, &grey)
		case <-s.closed:
			return
		}
	}
}

func (s *capture) remedy() string {
	if s.device {
		return "check its cable, that no other program uses it, and the pipeline if it is one"
	}
	return "check that it is a video, or give a folder of pictures"
}

// read takes the next frame of dev into f; io.EOF where there is none.
func read(dev *gocv.VideoCapture, f *frame.Frame, colour, grey *gocv.Mat) error {
	if !dev.Read(colour) || colour.Empty() {
		return io.EOF
	}
	m := colour
	if colour.Channels() != 1 {
		code := gocv.ColorBGRToGray
		if colour.Channels() == 4 {
			code = gocv.ColorBGRAToGray
		}
		if err := gocv.CvtColor(*colour, grey, code); err != nil {
			return fmt.Errorf("%w: reducing it to grey: %w", vision.ErrBadFrame, err)
		}
		m = grey
	}
	f.Resize(m.Cols(), m.Rows())
	switch m.Type() {
	case gocv.MatTypeCV8U:
		pix, err := m.DataPtrUint8()
		if err != nil {
			return fmt.Errorf("%w: %w", vision.ErrBadFrame, err)
		}
		f.White = 255
		for i, v := range pix {
			f.Pix[i] = float32(v)
		}
	case gocv.MatTypeCV16U:
		raw, err := m.DataPtrUint16()
		if err != nil {
			return fmt.Errorf("%w: %w", vision.ErrBadFrame, err)
		}
		pix := unsafe.Slice((*uint16)(unsafe.Pointer(unsafe.SliceData(raw))), len(raw))
		f.White = 65535
		for i, v := range pix {
			f.Pix[i] = float32(v)
		}
	default:
		return fmt.Errorf("%w: its pixels are neither 8 nor 16 bits deep", vision.ErrBadFrame)
	}
	return nil
}

// Next asks for the next frame and waits for it.
func (s *capture) Next(ctx context.Context) (*frame.Frame, error) {
	select {
	case <-s.closed:
		return nil, vision.ErrClosed
	default:
	}
	if s.final != nil {
		return nil, s.final
	}
	if err := s.wait(ctx); err != nil {
		return nil, err
	}
	if !s.asked {
		select {
		case s.ask <- &s.frame:
			s.asked = true
		case <-s.closed:
			return nil, vision.ErrClosed
		}
	}
	late := time.NewTimer(s.o.Patience)
	defer late.Stop()
	select {
	case err := <-s.got:
		s.asked = false
		if err == io.EOF {
			s.final = io.EOF
			if s.device {
				s.final = fmt.Errorf("%w: %s; check its cable", vision.ErrLost, s.name)
			}
			return nil, s.final
		}
		if err != nil {
			s.seq++
			return nil, err
		}
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-s.closed:
		return nil, vision.ErrClosed
	case <-late.C:
		s.final = fmt.Errorf("%w: no frame from %s for %v; unplug it and plug it in again", vision.ErrLost, s.name, s.o.Patience)
		return nil, s.final
	}
	s.frame.Seq, s.frame.T = s.stamp()
	return &s.frame, nil
}

// wait keeps a file to its pace.
func (s *capture) wait(ctx context.Context) error {
	if s.pace == 0 {
		return nil
	}
	if !s.next.IsZero() {
		timer := time.NewTimer(time.Until(s.next))
		defer timer.Stop()
		select {
		case <-timer.C:
		case <-ctx.Done():
			return ctx.Err()
		case <-s.closed:
			return vision.ErrClosed
		}
	}
	s.next = time.Now().Add(s.pace)
	return nil
}

// Close ends the capture, and waits a while for the device to let go. One that
// hangs in the driver is left behind: its goroutine ends when the driver does.
func (s *capture) Close() error {
	s.once.Do(func() { close(s.closed) })
	select {
	case <-s.done:
		return nil
	case <-time.After(time.Second):
		return fmt.Errorf("closing %s: it does not answer; unplug it", s.name)
	}
}
