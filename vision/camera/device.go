package camera

import (
	"context"
	"fmt"
	"os"
	"syscall"

	"halocue/vision"
	"halocue/vision/camera/exposure"
	"halocue/vision/frame"
	"halocue/vision/still/size"
)

// device is a V4L2 camera.
type device struct {
	*decoded
	path     string
	settings func() // puts back what was set; may be nil
}

// openDevice opens a V4L2 camera.
func openDevice(ctx context.Context, path string, o Options) (vision.Source, error) {
	if err := checkDevice(path); err != nil {
		return nil, err
	}
	d, err := startDevice(ctx, path, o)
	if err != nil {
		return nil, fmt.Errorf("opening the camera %s: %w; check its cable, and that no other program uses it", path, err)
	}
	t := traits{name: path, live: true, remedy: "unplug it and plug it in again"}
	settings, err := os.OpenFile(path, os.O_RDWR|syscall.O_NONBLOCK, 0)
	if err != nil {
		o.Exposed("", exposure.Setting{}, fmt.Errorf("setting the exposure: %w; set it by hand", err))
		return newSource(d, t, o), nil
	}
	m := &manual{controls: videoControls{settings}, before: map[uint32]int32{}}
	d.settings = func() { m.restore(); settings.Close() }
	return withAuto(newSource(d, t, o), m, longestVideo, o), nil
}

func startDevice(ctx context.Context, path string, o Options) (*device, error) {
	p, err := readCamera.Start()
	if err != nil {
		return nil, err
	}
	if o.Patience > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, o.Patience)
		defer cancel()
	}
	// If it cannot be told it has ended, which reading from it says.
	_, _ = fmt.Fprintf(p.In, "%d %d %q\n", o.Width, o.Height, path)
	d, _, err := newDecoded(ctx, p, size.Live)
	if err != nil {
		return nil, err
	}
	return &device{decoded: d, path: path}, nil
}

func (d *device) read(f *frame.Frame) error {
	err := d.decoded.read(f)
	if err == nil {
		return nil
	}
	if _, err := os.Stat(d.path); err != nil {
		return lost("%s is unplugged; plug it in again", d.path)
	}
	return lost("%s gives no more pictures (%v); unplug it and plug it in again", d.path, err)
}

func (d *device) release() {
	d.End()
	if d.settings != nil {
		d.settings()
	}
}

// longestVideo keeps a video camera's frame rate at 10 a second or more, s.
const longestVideo = 0.1
