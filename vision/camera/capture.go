package camera

import (
	"context"
	"errors"
	"fmt"
	"os"
	"syscall"

	"gocv.io/x/gocv"

	"halocue/vision"
	"halocue/vision/camera/exposure"
	"halocue/vision/frame"
	"halocue/vision/still/size"
)

func init() {
	// OpenCV writes remarks of its own to stderr unless told not to.
	if _, set := os.LookupEnv("OPENCV_LOG_LEVEL"); !set {
		_ = os.Setenv("OPENCV_LOG_LEVEL", "ERROR") // fails only for malformed names
	}
}

// capture is a V4L2 device that OpenCV has open. OpenCV blocks for as long as a device hangs, and nothing wakes it.
type capture struct {
	dev          *gocv.VideoCapture
	colour, grey gocv.Mat
	ended        func() error // what it means that there is no further frame
	free         func()       // gives back what else was opened; may be nil
}

// openCapture opens the device in a goroutine, since OpenCV may hang in that too.
func openCapture(ctx context.Context, what string, open func() (*gocv.VideoCapture, error), o Options) (*capture, error) {
	type result struct {
		dev *gocv.VideoCapture
		err error
	}
	opened := make(chan result, 1)
	go func() {
		dev, err := open()
		if err == nil && !dev.IsOpened() {
			err = errors.New("it does not open")
		}
		if err != nil && dev != nil {
			dev.Close()
		}
		opened <- result{dev, err}
	}()
	if o.Patience > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, o.Patience)
		defer cancel()
	}
	select {
	case r := <-opened:
		if r.err != nil {
			return nil, r.err
		}
		return &capture{dev: r.dev, colour: gocv.NewMat(), grey: gocv.NewMat()}, nil
	case <-ctx.Done():
		go func() { // give it back if it ever opens
			if r := <-opened; r.err == nil {
				r.dev.Close()
			}
		}()
		return nil, fmt.Errorf("%s does not answer (%w)", what, ctx.Err())
	}
}

func (c *capture) interrupt() {}

func (c *capture) release() {
	c.dev.Close()
	c.colour.Close()
	c.grey.Close()
	if c.free != nil {
		c.free()
	}
}

func (c *capture) read(f *frame.Frame) error {
	if !c.dev.Read(&c.colour) || c.colour.Empty() {
		return c.ended()
	}
	f.Name = ""
	return matToGrey(f, &c.colour, &c.grey)
}

// matToGrey reduces OpenCV's m (grey, BGR or BGRA; 8 or 16 bits) to f. The grey
// of colours is OpenCV's: the weights of package still. Spare is room for it.
func matToGrey(f *frame.Frame, m, spare *gocv.Mat) error {
	switch m.Channels() {
	case 1:
	case 3, 4:
		code := gocv.ColorBGRToGray
		if m.Channels() == 4 {
			code = gocv.ColorBGRAToGray
		}
		if err := gocv.CvtColor(*m, spare, code); err != nil {
			return bad(err)
		}
		m = spare
	default:
		return bad(fmt.Errorf("it has %d channels", m.Channels()))
	}
	if m.Rows() < 1 || m.Cols() > size.MaxLive/m.Rows() {
		return bad(fmt.Errorf("%d by %d pixels are too many", m.Cols(), m.Rows()))
	}
	f.Resize(m.Cols(), m.Rows())
	switch m.Type() {
	case gocv.MatTypeCV8U:
		pix, err := m.DataPtrUint8()
		if err != nil {
			return bad(err)
		}
		f.White = 255
		for i, v := range pix[:len(f.Pix)] {
			f.Pix[i] = float32(v)
		}
	case gocv.MatTypeCV16U:
		pix, err := m.DataPtrUint16()
		if err != nil {
			return bad(err)
		}
		f.White = 65535
		for i, v := range pix[:len(f.Pix)] {
			f.Pix[i] = float32(v)
		}
	default:
		return bad(errors.New("its pixels are neither 8 nor 16 bits deep"))
	}
	return nil
}

// openDevice opens a V4L2 camera.
func openDevice(ctx context.Context, path string, o Options) (vision.Source, error) {
	if err := checkDevice(path); err != nil {
		return nil, err
	}
	c, err := openCapture(ctx, path, func() (*gocv.VideoCapture, error) {
		return gocv.VideoCaptureFileWithAPI(path, gocv.VideoCaptureV4L2)
	}, o)
	if err != nil {
		return nil, fmt.Errorf("opening the camera %s: %w; check its cable, and that no other program uses it", path, err)
	}
	// Motion JPEG first: over USB 2, uncompressed pictures of this size come slowly.
	c.dev.Set(gocv.VideoCaptureFOURCC, c.dev.ToCodec("MJPG"))
	c.dev.Set(gocv.VideoCaptureFrameWidth, float64(o.Width))
	c.dev.Set(gocv.VideoCaptureFrameHeight, float64(o.Height))
	c.ended = func() error {
		if _, err := os.Stat(path); err != nil {
			return lost("%s is unplugged; plug it in again", path)
		}
		return lost("%s gives no more pictures; unplug it and plug it in again", path)
	}
	t := traits{name: path, live: true, remedy: "unplug it and plug it in again"}
	settings, err := os.OpenFile(path, os.O_RDWR|syscall.O_NONBLOCK, 0)
	if err != nil {
		o.Exposed("", exposure.Setting{}, fmt.Errorf("setting the exposure: %w; set it by hand", err))
		return newSource(c, t, o), nil
	}
	m := &manual{controls: videoControls{settings}, before: map[uint32]int32{}}
	c.free = func() { m.restore(); settings.Close() }
	return withAuto(newSource(c, t, o), m, longestVideo, o), nil
}

// longestVideo keeps a video camera's frame rate at 10 a second or more, s.
const longestVideo = 0.1
