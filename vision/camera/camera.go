// Package camera opens the things that deliver frames: camera devices, streams,
// files and folders. Each is a vision.Source.
package camera

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"halocue/vision"
)

// Options says how frames get their time.
type Options struct {
	// FPS is the number of frames a second: of files, which know no time, and of
	// the frame clock. 0 is 10.
	FPS float64
	// Frames selects the frame clock: T is the frame count over FPS, and every
	// frame is delivered. Otherwise T is the time of arrival.
	Frames bool
	// Stdin is read for the source "-".
	Stdin io.Reader
	// Patience is how long a camera may take to deliver its next frame. 0 is 10 s.
	Patience time.Duration
}

const (
	defaultFPS      = 10
	defaultPatience = 10 * time.Second
)

// Open opens a source by what a person writes: a device number or path, "-" for
// MJPEG on standard input, an http address that sends MJPEG, a GStreamer
// pipeline (it holds " ! "), a folder of pictures, or a video file. An error ends
// in the next step.
func Open(ctx context.Context, spec string, o Options) (vision.Source, error) {
	if o.FPS <= 0 {
		o.FPS = defaultFPS
	}
	if o.Patience <= 0 {
		o.Patience = defaultPatience
	}
	switch {
	case spec == "":
		return nil, errors.New("no camera is named; give --camera a device number, a path, or virtual")
	case spec == "-":
		if o.Stdin == nil {
			return nil, errors.New("standard input is not at hand; pipe an MJPEG stream into halocue")
		}
		return newStream(o.Stdin, nil, o), nil
	case strings.HasPrefix(spec, "http://"), strings.HasPrefix(spec, "https://"):
		return openHTTP(ctx, spec, o)
	case strings.Contains(spec, " ! "):
		return openCapture(spec, pipeline(spec), o)
	}
	if n, err := strconv.Atoi(spec); err == nil && n >= 0 {
		return openCapture(spec, fmt.Sprintf("/dev/video%d", n), o)
	}
	info, err := os.Stat(spec)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, fmt.Errorf("opening the camera: there is no %s; plug it in, or see which there are with: ls /dev/video*", spec)
	case err != nil:
		return nil, fmt.Errorf("opening the camera: %w; check the path", err)
	case info.IsDir():
		return openFolder(spec, o)
	}
	return openCapture(spec, spec, o)
}

// clock gives frames their number and their time.
type clock struct {
	o     Options
	seq   uint64
	start time.Time
}

// stamp numbers the next frame.
func (c *clock) stamp() (seq uint64, t time.Duration) {
	seq = c.seq
	c.seq++
	if c.o.Frames {
		return seq, time.Duration(float64(seq) / c.o.FPS * float64(time.Second))
	}
	now := time.Now()
	if c.start.IsZero() {
		c.start = now
	}
	return seq, now.Sub(c.start)
}
