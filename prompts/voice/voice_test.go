package voice

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"halocue/audio"
	"halocue/vision/visiontest"
)

const cue = "Left-hand knob, tighten slightly."

// The real engine speaks, tightly trimmed, at the loudness of speech, alike each
// time, and faster when asked to.
func TestEspeak(t *testing.T) {
	var lengths []float64
	for _, wpm := range []float64{120, 170, 300} {
		v, err := Espeak("en", wpm)
		if err != nil {
			t.Fatal(err)
		}
		v.Timeout = time.Minute // of a busy machine
		a, err := NewSpeaker(v).Clip(context.Background(), cue)
		if err != nil {
			t.Fatal(err)
		}
		b, err := NewSpeaker(v).Clip(context.Background(), cue)
		if err != nil || a.Samples() != b.Samples() {
			t.Errorf("%d and %d samples, %v: the same text twice differs", a.Samples(), b.Samples(), err)
		}
		if got := audio.Loudness(a.PCM()); math.Abs(got-audio.SpeechLUFS) > 0.5 {
			t.Errorf("%.1f LUFS at %g words a minute", got, wpm)
		}
		pcm := a.PCM()
		for _, edge := range [][]float32{pcm[:audio.Rate/10], pcm[len(pcm)-audio.Rate/10:]} {
			if peak(edge) < 0.002 {
				t.Errorf("a tenth of a second of silence at an end, at %g words a minute", wpm)
			}
		}
		lengths = append(lengths, a.Seconds())
	}
	if !(lengths[0] > lengths[1] && lengths[1] > lengths[2]) || lengths[1] > 2.2 {
		t.Errorf("the cue takes %.2f s at 120, 170 and 300 words a minute; want 2.2 or less at 170", lengths)
	}
	if est := lengthOf(cue, 170); math.Abs(est/lengths[1]-1) > 0.15 {
		t.Errorf("estimated %.2f s, spoken %.2f", est, lengths[1])
	}
}

func peak(pcm []float32) (p float64) {
	for _, v := range pcm {
		p = math.Max(p, math.Abs(float64(v)))
	}
	return p
}

// Engines that are missing, hang, fail, or write something else are said with a
// remedy.
func TestEngineTrouble(t *testing.T) {
	for name, c := range map[string]struct {
		argv []string
		want string
	}{
		"missing": {[]string{"halocue-no-such-engine"}, "missing"},
		"hangs":   {[]string{"sleep", "60"}, "did not answer"},
		"fails":   {[]string{"false"}, "exit status 1"},
		"no WAV":  {[]string{"cat"}, "not 16-bit WAV"},
		"mute":    {[]string{"printf", "RIFF0000WAVEfmt \\20\\0\\0\\0\\1\\0\\1\\0\\200\\76\\0\\0\\0\\0\\0\\0\\2\\0\\20\\0data\\0\\0\\0\\0"}, "said nothing"},
		"endless": {[]string{"cat", "/dev/zero"}, "does not end"},
	} {
		_, err := Command{Argv: c.argv, Remedy: "do this", Timeout: 2 * time.Second}.Speak(context.Background(), cue)
		if err == nil || !strings.HasSuffix(err.Error(), "do this") {
			t.Errorf("%s: %v: want the remedy", name, err)
			continue
		}
		if !strings.Contains(err.Error(), c.want) && name != "endless" {
			t.Errorf("%s: %v: want %q", name, err, c.want)
		}
		if (name == "missing") != errors.Is(err, ErrNoEngine) {
			t.Errorf("%s: ErrNoEngine: %v", name, err)
		}
	}
}

// A program that the caller ends has not failed: the error is the caller's.
func TestSpeakingIsEnded(t *testing.T) {
	ctx, stop := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer stop()
	_, err := Command{Argv: []string{"sleep", "60"}, Remedy: "do this"}.Speak(ctx, cue)
	if !errors.Is(err, context.DeadlineExceeded) || strings.Contains(err.Error(), "do this") {
		t.Errorf("%v: want that of the context", err)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x22\x56\x00\x00\x44\xac\x00\x00\x02\x00\x10\x00data\x00\x00\xff\x7f\x01\x02\x03\x04"))
	f.Fuzz(func(t *testing.T, wav []byte) {
		var pcm PCM
		var err error
		visiontest.Bounded(t, func() { pcm, err = decode(wav) })
		if err == nil && (pcm.Rate < 4000 || 2*len(pcm.Samples) > len(wav)) {
			t.Errorf("rate %d, %d samples of %d bytes", pcm.Rate, len(pcm.Samples), len(wav))
		}
	})
}

// A speaker whose voice is changed says the same words with the new one at once.
func TestSpeakerChangesItsVoice(t *testing.T) {
	said := func(s *Speaker) float64 {
		clip, err := s.Clip(context.Background(), cue)
		if err != nil {
			t.Fatal(err)
		}
		return clip.Seconds()
	}
	var voices []Voice
	for _, wpm := range []float64{120, 240} {
		v, err := Espeak("en", wpm)
		if err != nil {
			t.Fatal(err)
		}
		v.Timeout = time.Minute // of a busy machine
		voices = append(voices, v)
	}
	s := NewSpeaker(voices[0])
	slow := said(s)
	s.Use(voices[1])
	if quick := said(s); quick > 0.7*slow {
		t.Errorf("%.2f s at 120 words a minute, %.2f at 240", slow, quick)
	}
}
