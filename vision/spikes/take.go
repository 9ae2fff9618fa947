package spikes

import (
	"context"
	"errors"
	"fmt"
	"io"

	"halocue/vision"
)

// Take adds a number of frames, or as many as there are, and returns how many could be
// read.
func (s *Stack) Take(ctx context.Context, src vision.Source, frames int) (read int, err error) {
	for range frames {
		f, err := src.Next(ctx)
		switch {
		case errors.Is(err, vision.ErrBadFrame):
			continue
		case errors.Is(err, io.EOF):
			return read, nil
		case err != nil:
			return read, fmt.Errorf("looking at the star: %w", err)
		}
		if err := s.Add(f); err != nil {
			return read, err
		}
		read++
	}
	return read, nil
}
