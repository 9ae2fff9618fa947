package voice

import (
	"context"
	"testing"
)

// What is said for the first time, and what was said before: the words of a
// night should be of the second kind (Speaker.Prepare).
func BenchmarkClip(b *testing.B) {
	v, err := Espeak("en", 160)
	if err != nil {
		b.Fatal(err)
	}
	ctx := context.Background()
	b.Run("engine", func(b *testing.B) {
		for b.Loop() {
			if _, err := v.Speak(ctx, cue); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("first", func(b *testing.B) {
		for b.Loop() {
			if _, err := NewSpeaker(v).Clip(ctx, cue); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("again", func(b *testing.B) {
		s := NewSpeaker(v)
		if err := s.Prepare(ctx, []string{cue}); err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			if _, err := s.Clip(ctx, cue); err != nil {
				b.Fatal(err)
			}
		}
	})
}
