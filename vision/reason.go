package vision

import (
	"cmp"
	"context"
	"errors"
	"sync"

	"halocue/vision/frame"
)

// Reason is a source that keeps why its first bad frame could not be read. Who counts
// bad frames only can say it at the end, once.
type Reason struct {
	Source

	mu    sync.Mutex
	first error
}

// Next is Source's.
func (r *Reason) Next(ctx context.Context) (*frame.Frame, error) {
	f, err := r.Source.Next(ctx)
	if errors.Is(err, ErrBadFrame) {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.first = cmp.Or(r.first, err)
	}
	return f, err
}

// First is the reason, nil where every frame could be read.
func (r *Reason) First() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.first
}
