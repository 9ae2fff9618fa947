// Package camera opens frame sources: cameras, streams, videos and folders of
// pictures. All of them keep the contract of vision.Source.
package camera

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"regexp"
	"strings"
	"time"

	"halocue/vision"
	"halocue/vision/camera/exposure"
	"halocue/vision/still"
)

// defaultFPS is the frame clock's rate where none is given.
const defaultFPS = 10

// Options say how a source runs. The zero value is a camera by the wall clock.
type Options struct {
	// Frames chooses the frame clock: frame n has T = n/FPS, counted from 0 and
	// including those that could not be read; nothing is paced and nothing
	// dropped. Otherwise T is the time of arrival after the first frame.
	Frames bool

	// FPS is the frame clock's rate, frames per second, 0 < FPS <= 1000; 0 means
	// defaultFPS. By the wall clock it paces folders and video files (a video's
	// own rate where FPS is 0), as a camera would.
	FPS float64

	// Patience is how long a source may be silent before it counts as lost: for the
	// first frame always, later only where opening again can help (device, network).
	// 0 means 30 s by the wall clock, and without limit by the frame clock, where the
	// frames may come as slowly as they like.
	Patience time.Duration

	// Width and Height, px, are asked of a camera device, which may choose
	// others. 0 means 1280 x 960.
	Width, Height int

	// Exposure is the time of the first exposure of cameras that take one after
	// the other (INDI). 0 means 0.2 s.
	Exposure time.Duration

	// Exposed is called with each change of setting and verdict, from within Next. An
	// error says that the exposure cannot be set, with the next step; the camera then
	// goes on as it is. It may be nil.
	Exposed func(exposure.Verdict, exposure.Setting, error)

	// Undeveloped leaves the pictures of a stream as they are sent, for vision.Newest to
	// decode those that it hands on (Frame.Develop).
	Undeveloped bool

	// Stdin is read for the source "-".
	Stdin io.Reader

	// Now is the wall clock; nil means time.Now.
	Now func() time.Time
}

func (o Options) withDefaults() (Options, error) {
	if math.IsNaN(o.FPS) || o.FPS < 0 || o.FPS > 1000 {
		return o, fmt.Errorf("%g frames per second is out of range; give more than 0 and at most 1000", o.FPS)
	}
	if o.Patience == 0 && !o.Frames {
		o.Patience = 30 * time.Second
	}
	if o.Width == 0 || o.Height == 0 {
		o.Width, o.Height = 1280, 960
	}
	if o.Exposed == nil {
		o.Exposed = func(exposure.Verdict, exposure.Setting, error) {}
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return o, nil
}

// fps is the frame clock's rate.
func (o Options) fps() float64 {
	if o.FPS == 0 {
		return defaultFPS
	}
	return o.FPS
}

// firstExposure is the time of the first exposure, s.
func (o Options) firstExposure() float64 {
	if o.Exposure <= 0 {
		return 0.2
	}
	return o.Exposure.Seconds()
}

var (
	number = regexp.MustCompile(`^[0-9]{1,3}$`)
	scheme = regexp.MustCompile(`^([a-z][a-z0-9+]*)://`)
)

// Open opens the source that spec names:
//
//	"-"                    JPEG after JPEG on standard input
//	0, 1, ...              the camera /dev/video0, ...
//	/dev/video0            the camera at a path (links are followed)
//	videotestsrc ! ...     a GStreamer pipeline: anything with " ! " in it
//	http://, https://      MJPEG over HTTP
//	indi://HOST/DEVICE     a camera of an INDI server
//	FOLDER                 the pictures in it, in natural order
//	FILE                   a video, an MJPEG stream (file or named pipe), a picture
//
// The context bounds the opening only. An error ends with the next step.
func Open(ctx context.Context, spec string, o Options) (vision.Source, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	switch {
	case spec == "":
		return nil, fmt.Errorf("no camera is named; give a device number, a file, a folder, a pipeline or - for standard input")
	case spec == "-":
		return openStdin(o)
	case strings.Contains(spec, " ! "):
		return openPipeline(ctx, spec, o)
	case number.MatchString(spec):
		return openDevice(ctx, "/dev/video"+spec, o)
	}
	if m := scheme.FindStringSubmatch(spec); m != nil {
		switch m[1] {
		case "http", "https":
			return openHTTP(ctx, spec, o)
		case "indi":
			return openINDI(ctx, spec, o)
		}
		return nil, fmt.Errorf("cameras at %s:// are not known; use http:// (MJPEG), indi:// or a GStreamer pipeline", m[1])
	}
	return openPath(ctx, spec, o)
}

// openPath opens what stands in the file system.
func openPath(ctx context.Context, path string, o Options) (vision.Source, error) {
	info, err := os.Stat(path)
	switch {
	case strings.HasPrefix(path, "/dev/video"):
		return openDevice(ctx, path, o)
	case os.IsNotExist(err):
		return nil, fmt.Errorf("opening the camera: there is no file, folder or device %q; check the name, or have halocue check --list name the cameras", path)
	case err != nil:
		return nil, fmt.Errorf("opening the camera: %w; check that you may read it", err)
	case info.IsDir():
		return openFolder(path, o)
	case info.Mode()&os.ModeCharDevice != 0:
		return openDevice(ctx, path, o)
	case info.Mode()&os.ModeNamedPipe != 0:
		return openMJPEGFile(path, o)
	}
	head, err := firstBytes(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("opening the camera: %w; check that you may read it", err)
	case len(head) == 0:
		return nil, fmt.Errorf("opening the camera: %s is empty; record or copy it again", path)
	case string(head) == "\xff\xd8\xff":
		return openMJPEGFile(path, o)
	case still.HasExtension(path):
		return openPictures([]string{path}, o), nil
	}
	return openVideo(ctx, path, o)
}

func firstBytes(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	head := make([]byte, 3)
	n, err := file.Read(head)
	if n == 0 && err != nil && !isEOF(err) {
		return nil, err
	}
	return head[:n], nil
}
