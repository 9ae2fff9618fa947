package session

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"halocue/config"
	"halocue/internal/run"
	"halocue/internal/run/parts"
)

// What is in a file already is not overwritten by a transcript.
func TestTranscriptKeepsWhatIsThere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.jsonl")
	if err := os.WriteFile(path, []byte("the only copy\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if f, err := createTranscript(path); err == nil || !strings.Contains(err.Error(), "name another file") {
		t.Errorf("opened %v, %v", f, err)
	}
	if text, err := os.ReadFile(path); err != nil || string(text) != "the only copy\n" {
		t.Errorf("it holds %q, %v", text, err)
	}
	if err := os.Truncate(path, 0); err != nil {
		t.Fatal(err)
	}
	f, err := createTranscript(path)
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := createTranscript(pipe); !errors.Is(err, syscall.ENXIO) {
		t.Errorf("a named pipe that nobody reads: %v", err)
	}
}

// A damaged journal is said and printed, with the name that it got, and the night is
// written into a new one.
func TestDamagedJournalIsSaid(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	if err := os.WriteFile(path, []byte("CREATE TABLE night (and then nothing"), 0o600); err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	s := session{Options: Options{Journal: path}, world: &parts.World{Stderr: &said}, c: config.Default()}
	var p run.Parts
	end := s.keep(t.Context(), &p)
	if err := end(""); err != nil {
		t.Error(err)
	}
	if !slices.Contains(p.Warn, "journal-new") || p.Recorder == nil || !strings.Contains(said.String(), "journal.db.damaged-1") {
		t.Errorf("it says %q, and prints %q", p.Warn, said.String())
	}
}
