package voice

import (
	"context"
	"errors"
	"sync"
)

// Fallback is the first of several voices that answers. One that failed is left
// alone for a while, so that an engine that hangs delays one cue and not each of
// them. It is safe for concurrent use.
type Fallback struct {
	voices []Voice
	report func(error)
	mu     sync.Mutex
	rest   []int // for each voice: how many more texts it is spared
}

// spared is the number of texts for which a voice that failed is not tried (judgement).
const spared = 20

// newFallback tries voices in order. report, if not nil, gets each failure; it is
// called from the goroutine that speaks and must not block.
func newFallback(report func(error), voices ...Voice) *Fallback {
	return &Fallback{voices: voices, report: report, rest: make([]int, len(voices))}
}

// Speak returns the sound of the first voice that succeeds. It fails only if all fail,
// with all their errors, or if ctx ends.
func (f *Fallback) Speak(ctx context.Context, text string) (PCM, error) {
	var failures []error
	for i, v := range f.voices {
		if !f.turn(i) {
			continue
		}
		pcm, err := v.Speak(ctx, text)
		if err == nil {
			return pcm, nil
		}
		failures = append(failures, err)
		if ctx.Err() != nil {
			break // the caller ended it; the voice did not fail
		}
		f.spare(i)
		if f.report != nil {
			f.report(err)
		}
	}
	if failures == nil {
		return PCM{}, errors.New("speaking: every voice failed a moment ago; choose another engine, or none, as voice.engine")
	}
	return PCM{}, errors.Join(failures...)
}

// Close ends the connections of those voices that have any.
func (f *Fallback) Close() error {
	for _, v := range f.voices {
		hangUp(v)
	}
	return nil
}

// turn reports whether voice i is to be tried, and counts down its rest.
func (f *Fallback) turn(i int) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.rest[i] > 0 {
		f.rest[i]--
		return false
	}
	return true
}

func (f *Fallback) spare(i int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.rest[i] = spared
}
