package repeatability

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"halocue/vision"
	"halocue/vision/frame"
)

// Seating is the frames of one look.
type Seating struct {
	Name   string
	Frames []*frame.Frame
}

// mostFrames is the most frames that one look keeps.
const mostFrames = 30

// full reports whether it has all the frames that one look keeps.
func (s *Seating) full() bool { return len(s.Frames) >= mostFrames }

// keep adds a copy of a frame, unless it is full.
func (s *Seating) keep(f *frame.Frame) {
	if s.full() {
		return
	}
	own := *f
	own.Pix = slices.Clone(f.Pix)
	s.Frames = append(s.Frames, &own)
}

// fill waits for the pause to be over and keeps the frames of the look after it, both
// in seconds. The source may have ended.
func (s *Seating) fill(ctx context.Context, src vision.Source, pause, look float64) (ended bool, err error) {
	begin := math.NaN()
	for {
		f, err := src.Next(ctx)
		if errors.Is(err, vision.ErrBadFrame) {
			continue
		}
		if errors.Is(err, io.EOF) {
			return true, nil
		}
		if err != nil {
			return true, fmt.Errorf("taking a look: %w; check the camera, and begin again", err)
		}
		now := f.T.Seconds()
		if math.IsNaN(begin) {
			begin = now
		}
		if now-begin >= pause {
			s.keep(f)
		}
		if now-begin >= pause+look {
			return false, nil
		}
	}
}

// Read is one look: the frames of a source, or as many as one look keeps.
func Read(ctx context.Context, name string, src vision.Source) (Seating, error) {
	s := Seating{Name: name}
	for !s.full() {
		f, err := src.Next(ctx)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return s, err
		}
		s.keep(f)
	}
	return s, nil
}

// Take takes looks, each after a pause, seconds, until there are enough or the source has
// ended. Before each the person is told what to do, and the look is named.
func Take(ctx context.Context, src vision.Source, looks int, pause, look float64, before func(i int) (name string, err error)) (all []Seating, err error) {
	for i := range looks {
		name, err := before(i)
		if err != nil {
			return all, err
		}
		s := Seating{Name: name}
		ended, err := s.fill(ctx, src, pause, look)
		if len(s.Frames) > 0 {
			all = append(all, s)
		}
		if ended || err != nil {
			return all, err
		}
	}
	return all, nil
}
