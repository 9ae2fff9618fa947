package voice

import (
	"os/exec"
	"regexp"
	"testing"
)

// halocue is the name as its phonemes are written by espeak-ng: "halo" and "cue".
var halocue = regexp.MustCompile(`(eI|[eE][ji]|'?e:?)[',]*l[',:]*[oOu@]:?[',]*k[',]*(j|i;)[',]*u`)

// The engine itself says how it pronounces the program's name: as "halo" and "cue" in
// every language, and in those with a respelling only because of that.
func TestTheEnginePronouncesTheName(t *testing.T) {
	phonemes := func(language, text string) string {
		out, err := exec.Command("espeak-ng", "-v", espeakVoices[language], "-q", "-x", text).Output()
		if err != nil {
			t.Fatalf("espeak-ng (package espeak-ng): %v", err)
		}
		return string(out)
	}
	for language := range espeakVoices {
		v, err := respell(&flaky{}, language)
		if err != nil {
			t.Fatal(err)
		}
		if got := phonemes(language, v.spell("Halocue")); !halocue.MatchString(got) {
			t.Errorf("%s: %q", language, got)
		}
		if got := phonemes(language, "Halocue"); language != "en" && halocue.MatchString(got) {
			t.Errorf("%s: %q is right without a respelling; drop it", language, got)
		}
	}
}

// closing is a voice with a connection.
type closing struct {
	Voice
	closed *bool
}

func (c closing) Close() error { *c.closed = true; return nil }

// A voice that is respelled ends the connection of the one that speaks.
func TestRespelledClosesItsVoice(t *testing.T) {
	closed := false
	v, err := respell(closing{closed: &closed}, "de")
	if err != nil {
		t.Fatal(err)
	}
	if err := v.Close(); err != nil || !closed {
		t.Errorf("closed %v, %v", closed, err)
	}
}
