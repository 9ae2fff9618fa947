package aloud

import (
	"context"
	"encoding/binary"
	"os/exec"
	"testing"

	"halocue/audio"
	"halocue/audio/ears"
	"halocue/internal/setup"
)

// A newcomer's answers in two synthetic voices, as set-up hears them. One in six may
// be misheard: each is said back and can be corrected.
func TestSpokenAnswers(t *testing.T) { spokenAnswers(t, 4, flite) }
func TestProveSpokenAnswers(t *testing.T) {
	spokenAnswers(t, 10, flite, `espeak-ng -v en-us -s 150 --stdout "$0"`)
}

const flite = `flite -voice slt -t "$0" -o /dev/stdout`

func spokenAnswers(t *testing.T, most int, voices ...string) {
	right, all := 0, 0
	for _, voice := range voices {
		e, err := ears.New(ears.Config{Sentences: setup.Sentences()})
		if err != nil {
			t.Fatal(err)
		}
		for _, spoken := range []string{
			"yes", "skip", "eight inches", "one thousand two hundred", "f six", "knobs on springs", "half past eight", "two bumps",
			"fifty one point five north zero point one west", "english",
		}[:most] {
			all++
			if got := hearAnswer(t, e, voice, spoken); got == setup.Written(spoken) {
				right++
			} else {
				t.Logf("%q was heard as %q", spoken, got)
			}
		}
		if err := e.Close(); err != nil {
			t.Error(err)
		}
	}
	t.Logf("%d of %d", right, all)
	if 6*right < 5*all {
		t.Errorf("%d of %d answers were understood", right, all)
	}
}

func hearAnswer(t *testing.T, e *ears.Ears, voice, words string) string {
	t.Helper()
	out, err := exec.Command("sh", "-c", voice+` | sox -q -t wav --ignore-length - -t raw -r 16000 -c 1 -b 16 -e signed - gain -n -12 pad 0.5 1`, words).Output()
	if err != nil || len(out) < 16000 {
		t.Fatalf("speak %q (packages espeak-ng, flite, sox): %v, %d bytes", words, err, len(out))
	}
	var f audio.Frame
	text := ""
	for n := 0; n+2*len(f) <= len(out); n += 2 * len(f) {
		for i := range f {
			f[i] = int16(binary.LittleEndian.Uint16(out[n+2*i:]))
		}
		heard, err := e.Hear(context.Background(), f)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range heard {
			text += setup.Written(h.Text)
		}
	}
	return text
}

// Of an answer that begins while set-up speaks the rest is not taken for the whole.
func TestHalfAnAnswerIsNone(t *testing.T) {
	n := 0
	e, err := ears.New(ears.Config{Sentences: setup.Sentences(), Own: func() (own ears.Own) {
		n++
		own.Speaking = n < 60 // 1.2 s, of which half a second is quiet
		return own
	}})
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	if got := hearAnswer(t, e, `espeak-ng -v en-us -s 150 --stdout "$0"`, "fifty one point five north zero point one west"); got != "" {
		t.Errorf("the tail was taken for %q", got)
	}
}
