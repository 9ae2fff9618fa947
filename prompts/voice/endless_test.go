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
