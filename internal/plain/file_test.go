package plain

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestFiles(t *testing.T) {
	dir := t.TempDir()
	good, pipe := filepath.Join(dir, "good"), filepath.Join(dir, "pipe\u202e\nhalocue: x")
	if err := os.WriteFile(good, []byte("12345"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := Open(good)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if data, err := io.ReadAll(f); err != nil || string(data) != "12345" {
		t.Errorf("%q, %v", data, err)
	}
	for _, path := range []string{pipe, dir, "/dev/zero"} {
		if _, err := Open(path); err == nil || !strings.Contains(err.Error(), "not a regular file; ") || strings.ContainsAny(err.Error(), "\u202e\n") {
			t.Errorf("%q: %v", path, err)
		}
	}
	if _, err := Open(filepath.Join(dir, "none")); !os.IsNotExist(err) {
		t.Errorf("none: %v", err)
	}
}
