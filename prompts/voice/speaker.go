package voice

import (
	"context"
	"fmt"
	"io"
	"sync"

	"halocue/audio"
)

// Speaker turns words into clips for the mixing desk, and keeps them: what was
// said once starts at once the next time. It is safe for concurrent use.
type Speaker struct {
	mu    sync.Mutex
	voice Voice
	uses  int // how often the voice was changed
	clips map[string]audio.Clip
}

// mostClips is how many clips are kept; a night has some fifty different cues.
const mostClips = 500

// NewSpeaker keeps what v says.
func NewSpeaker(v Voice) *Speaker { return &Speaker{voice: v, clips: map[string]audio.Clip{}} }

// Use changes the voice: what is said from now on is said by v.
func (s *Speaker) Use(v Voice) {
	s.mu.Lock()
	old := s.voice
	s.voice = v
	s.uses++
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

// hangUp closes a voice that can be closed. There is no remedy where that fails.
func hangUp(v Voice) {
	if c, ok := v.(io.Closer); ok {
		_ = c.Close()
	}
}

// Clip returns the words as sound, without silence at its ends and at the
// loudness of speech.
func (s *Speaker) Clip(ctx context.Context, text string) (audio.Clip, error) {
	s.mu.Lock()
	clip, ok := s.clips[text]
	voice, uses := s.voice, s.uses
	s.mu.Unlock()
	if ok {
		return clip, nil
	}
	pcm, err := voice.Speak(ctx, text)
	if err != nil {
		return audio.Clip{}, err
	}
	clip, err = audio.FromPCM(pcm.Rate, pcm.Samples)
	if err != nil {
		return audio.Clip{}, fmt.Errorf("preparing the words %q: %w", text, err)
	}
	if pcm.Begin != nil {
		return clip.Aloud(pcm.Begin, pcm.Cut), nil
	}
	if clip.Peak() == 0 { // a silence keeps its length; the voice may be back next time
		return clip, nil
	}
	clip = clip.Trimmed().Levelled(audio.SpeechLUFS)
	s.mu.Lock()
	defer s.mu.Unlock()
	if uses != s.uses { // the voice has changed meanwhile
		return clip, nil
	}
	if len(s.clips) >= mostClips {
		clear(s.clips)
	}
	s.clips[text] = clip
	return clip, nil
}

// Prepare has texts spoken ahead, so that they start at once later. It returns
// the first failure.
func (s *Speaker) Prepare(ctx context.Context, texts []string) error {
	for _, text := range texts {
		if _, err := s.Clip(ctx, text); err != nil {
			return err
		}
	}
	return nil
}
