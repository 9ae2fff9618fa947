package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"halocue/internal/journal"
)

// program is the real program, on the virtual telescope by the frame clock.
func program(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "halocue", append([]string{"guide", "--camera", "virtual:3", "--clock", "frames", "--fps", "3", "--sound", "none", "--voice", "none"}, args...)...)
	cmd.Env = append(os.Environ(), "HOME="+t.TempDir())
	cmd.Stderr = os.Stderr
	return cmd
}

// lesson is what the program has learned of how the knobs sit in the frame, and
// whether it had asked for a turn before.
type lesson struct {
	rotation float64 // radians
	turned   bool
}

// learned runs the program until it has learned something for the n-th time, and
// kills it as a power cut would.
func learned(t *testing.T, journal string, n int) (l lesson) {
	t.Helper()
	cmd := program(t, "--journal", journal, "--transcript", "-")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = nil
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for more := 0; more < 100 && lines.Scan(); { // the disk is given its time
		var e struct {
			Event, Action string
			Memory        struct{ Rotation float64 }
		}
		if err := json.Unmarshal(lines.Bytes(), &e); err != nil {
			t.Fatal(err)
		}
		switch {
		case n == 0:
			more++
		case e.Event == "learned" && e.Memory.Rotation != 0: // of the knobs, not of the person alone
			n--
			l.rotation = e.Memory.Rotation
		case e.Action == "turn":
			l.turned = true
		}
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	cmd.Wait() // it was killed
	if n > 0 {
		t.Fatalf("the night was over %d lessons early", n)
	}
	return l
}

// Killed in the middle and started again, it has what it had learned, says that it
// goes on, and the journal is whole.
func TestKilledInTheMiddle(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "journal.db")
	had, has := learned(t, path, 4), learned(t, path, 1)
	if off := math.Remainder(has.rotation-had.rotation, 2*math.Pi); has.turned || math.Abs(off) > 0.1 {
		t.Errorf("before it was killed %+v, afterwards %+v", had, has)
	}
	if fresh := learned(t, filepath.Join(t.TempDir(), "other.db"), 1); !fresh.turned {
		t.Errorf("a first night knows the knobs before a turn: %+v", fresh)
	}
	said, _, _, stop := guided(t, "--camera", "virtual:3", "--journal", path)
	said.until(t, "I was interrupted.", 1)
	stop()
	j, err := journal.Read(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(j.Check(context.Background()), j.Close()); err != nil {
		t.Error(err)
	}
}

// onDisk runs the program with its journal on a file system of its own, mounted
// with the options, and returns what it said.
func onDisk(t *testing.T, options string) string {
	t.Helper()
	if out, err := exec.Command("unshare", "--map-root-user", "--mount", "true").CombinedOutput(); err != nil {
		t.Skipf("this machine forbids a mount of one's own: %v %s", err, out)
	}
	disk := t.TempDir()
	cmd := program(t, "--journal", filepath.Join(disk, "journal.db"))
	cmd.Args = append([]string{"unshare", "--map-root-user", "--mount", "sh", "-c",
		`mount -t tmpfs -o "$0" none "$1" && shift && exec "$@"`, options, disk, cmd.Path}, cmd.Args[1:]...)
	var err error
	if cmd.Path, err = exec.LookPath("unshare"); err != nil {
		t.Fatal(err)
	}
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return string(out)
}

// A disk that is full, or may not be written, is said once, and the mirror comes
// true without a journal.
func TestDiskFaults(t *testing.T)      { diskFaults(t, "size=200k") }
func TestProveDiskFaults(t *testing.T) { diskFaults(t, "size=200k", "ro") }

func diskFaults(t *testing.T, mounts ...string) {
	said := map[string]string{
		"size=200k": "The disk is full. I go on without writing.",
		"ro":        "I cannot write the journal. We go on without it.",
	}
	for _, options := range mounts {
		words := said[options]
		t.Run(options, func(t *testing.T) {
			t.Parallel()
			said := onDisk(t, options)
			if strings.Count(said, words) != 1 || !strings.Contains(said, "The mirror is true") {
				t.Errorf("it said:\n%s", said)
			}
		})
	}
}

// A speech engine that is missing, or hangs, is told, and another takes its place.
func TestVoiceFaults(t *testing.T) {
	t.Parallel() // it waits by the clock
	for _, command := range []string{"no-such-engine", "sleep 60"} {
		t.Run(command, func(t *testing.T) {
			t.Parallel()
			said, _, _, stop := guided(t, "--camera", "virtual:3", "--voice", "command", "--voice-command", command)
			said.until(t, "The voice does not answer.", 1)
			said.until(t, "through focus", 1)
			stop()
		})
	}
}
