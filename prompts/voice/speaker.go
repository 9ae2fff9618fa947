package voice

import (
	"context"
	"fmt"
	"io"
	"sync"
	"time"

	"halocue/audio"
)

// Speaker turns words into clips for the mixer, and keeps them in memory: what was said
// once starts without delay the next time. It is safe for concurrent use.
type Speaker struct {
	mu    sync.Mutex
	voice Voice
	uses  int // how often the voice was changed
	clips map[string]*spoken
	held  int // samples in clips
	count int // clips asked for
}

// spoken is a clip, and when it was last asked for.
type spoken struct {
	audio.Clip
	used int
}

// The clips in memory, in samples, are bounded (judgement): to 17 MB, three minutes of
// speech and half of what is spoken ahead; with what is kept on disk too to 2 MB, what may
// come at any moment.
const (
	mostHeld = 180 * audio.Rate
	mostToo  = 20 * audio.Rate
)

// NewSpeaker keeps what v says.
func NewSpeaker(v Voice) *Speaker { return &Speaker{voice: v, clips: map[string]*spoken{}} }

// Use changes the voice: what is said from now on is said by v.
func (s *Speaker) Use(v Voice) {
	s.mu.Lock()
	old := s.voice
	s.voice = v
	s.uses++
	s.held = 0
	clear(s.clips)
	s.mu.Unlock()
	hangUp(old)
}

// Close ends the connections of the voice, if it has any.
func (s *Speaker) Close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	hangUp(s.voice)
}

// hangUp closes a voice that can be closed. An error has no remedy.
func hangUp(v Voice) {
	if c, ok := v.(io.Closer); ok {
		_ = c.Close()
	}
}

// Clip returns the words as sound, without silence at its ends and at the
// loudness of speech.
func (s *Speaker) Clip(ctx context.Context, text string) (audio.Clip, error) {
	s.mu.Lock()
	s.count++
	have, ok := s.clips[text]
	if ok {
		have.used = s.count
	}
	voice, uses := s.voice, s.uses
	s.mu.Unlock()
	if ok {
		return have.Clip, nil
	}
	pcm, err := voice.Speak(ctx, text)
	if err != nil {
		return audio.Clip{}, err
	}
	if pcm, err = pcm.ready(); err != nil {
		return audio.Clip{}, fmt.Errorf("preparing the words %q: %w", text, err)
	}
	clip := audio.FromPCM(pcm.Samples)
	if pcm.Begin != nil {
		return clip.Aloud(pcm.Begin, pcm.Cut), nil
	}
	if pcm.Ready { // a silence keeps its length; the voice may be back next time
		s.hold(text, clip, uses, pcm.Kept)
	}
	return clip, nil
}

// hold keeps a clip, unless the voice has changed since it was asked for. What was not
// asked for longest makes room, but not for what is on disk too.
func (s *Speaker) hold(text string, clip audio.Clip, uses int, onDisk bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, ok := s.clips[text]; ok || uses != s.uses || onDisk && s.held > mostToo {
		return
	}
	s.clips[text] = &spoken{clip, s.count}
	for s.held += clip.Samples(); s.held > mostHeld; {
		oldest := text
		for t, c := range s.clips {
			if c.used < s.clips[oldest].used {
				oldest = t
			}
		}
		if oldest == text {
			return
		}
		s.held -= s.clips[oldest].Samples()
		delete(s.clips, oldest)
	}
}

// Prepare has texts spoken ahead, so that they start at once later. It rests after each,
// so that it takes a sixth of one processor at most. It returns the first failure.
func (s *Speaker) Prepare(ctx context.Context, texts []string) error {
	for _, text := range texts {
		began := time.Now()
		if _, err := s.Clip(ctx, text); err != nil {
			return err
		}
		select {
		case <-time.After(5 * time.Since(began)):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}
