package voice

import (
	"runtime"
	"strings"
	"testing"
)

// A command that writes without end is ended, and what it wrote is not kept. What is
// allocated is counted, for what the process holds depends on when rubbish is collected.
func TestCommandWithoutEnd(t *testing.T) {
	for script, most := range map[string]uint64{
		"cat /dev/zero":             6 * longestSpeech, // a buffer that doubles
		"cat /dev/zero >&2; exit 1": 16 * longestComplaint,
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Command{Argv: []string{"sh", "-c", script}, Remedy: "choose another voice"}.Speak(t.Context(), "words")
		runtime.ReadMemStats(&after)
		if err == nil || len(err.Error()) > 2000 || strings.ContainsRune(err.Error(), 0) {
			t.Errorf("%s: error %.200q", script, err)
		}
		if took := after.TotalAlloc - before.TotalAlloc; took > most {
			t.Errorf("%s: allocated %d kB of at most %d", script, took>>10, most>>10)
		}
	}
}

// A pipe in the file's stead is not waited for, and sound of a low rate, which takes
// twelve times its bytes at the mixer's, is no longer than other sound.
func TestCommandWithAPipeOrALongSound(t *testing.T) {
	const long = `printf 'RIFF\377\377\377\377WAVEfmt \020\0\0\0\1\0\1\0\240\017\0\0\100\037\0\0\2\0\020\0data\377\377\377\377' >"$1"; head -c 1000000 /dev/zero >>"$1"`
	for script, say := range map[string]string{`mkfifo "$1"`: "not a regular file", `ln -s /dev/zero "$1"`: "not a regular file", long: "does not end"} {
		_, err := Command{Argv: []string{"sh", "-c", script, "sh", "{out}"}, Remedy: "choose another voice"}.Speak(t.Context(), "words")
		if err == nil || !strings.Contains(err.Error(), say) || !strings.HasSuffix(err.Error(), "; choose another voice") {
			t.Errorf("%s: %v, want %q", script, err, say)
		}
	}
}

// What is kept of a command's words never exceeds its bound, in however many pieces they come.
func TestLimitedCountsWhatItHas(t *testing.T) {
	l := limited{most: 10}
	if _, err := l.Write(make([]byte, 6)); err != nil {
		t.Fatal(err)
	}
	if _, err := l.Write(make([]byte, 5)); err == nil || l.buffer.Len() > 10 {
		t.Errorf("%d bytes are kept, %v", l.buffer.Len(), err)
	}
	if _, err := l.Write(make([]byte, 4)); err != nil {
		t.Errorf("ten bytes in all: %v", err)
	}
}
