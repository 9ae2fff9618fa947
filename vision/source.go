// Package vision says what a source of frames is. The sources themselves are in
// package camera, and the measurement of the ring in a frame is in package ring.
package vision

import (
	"context"
	"errors"

	"halocue/vision/frame"
)

// A Source delivers frames: a camera, a stream, files, or the virtual
// telescope. The contract, which visiontest.CheckSource proves for each of them:
//
//   - Next blocks until there is a frame, the context ends, or the source does.
//   - The frame belongs to the caller until its next call of Next, and not
//     longer: copy what must last.
//   - Frame.T and Frame.Seq never run backwards.
//   - An orderly end is io.EOF; a device that went away is ErrLost (wrapped),
//     and both are final: every later call gives the same answer at once.
//   - One frame that cannot be read in a stream that goes on is ErrBadFrame
//     (wrapped): not final, call Next again.
//   - Close wakes a blocked Next, may be called twice and from any goroutine;
//     after it Next answers ErrClosed at once.
type Source interface {
	Next(ctx context.Context) (*frame.Frame, error)
	Close() error
}

var (
	// ErrLost says that the device was there and went away.
	ErrLost = errors.New("the camera went away")
	// ErrBadFrame says that this frame could not be read; the next may be.
	ErrBadFrame = errors.New("the frame cannot be read")
	// ErrClosed says that the source was closed by its owner.
	ErrClosed = errors.New("the source is closed")
)
