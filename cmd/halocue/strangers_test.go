package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// strange is part of a name that steers a terminal, turns the direction of writing and
// begins a line that looks like one of ours.
const strange = "x\u009b31m\x1b[2J\u202e\u200b\nhalocue: all is well <b>"

// Whatever a file, a knob or a server is called: no command prints it raw, or as a line
// of its own.
func TestNamesOfStrangers(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	star, err := os.ReadFile("../../testdata/stars/none-00.png")
	if err != nil {
		t.Fatal(err)
	}
	place := func(name string, data []byte) string {
		path := filepath.Join(dir, strange+name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	good, text := place(".png", star), place(".txt", []byte("text\n"))
	quiet := []string{"--by-day", "--sound", "none", "--journal", "none", "--clock", "frames"}
	for _, args := range [][]string{
		{"measure", good}, {"measure", "--json", good}, {"measure", text}, {"measure", dir + "/none" + strange}, {"spikes", good}, {"spikes", text},
		{"wobble", good, good, good}, {"wobble", text}, {"scale", "--camera", text}, {"replay", text}, {"replay", dir + "/none" + strange},
		{"report", "--journal", text}, {"report", "--journal", dir + "/none" + strange}, {"history", "--journal", text},
		{"collimate", "--config", text}, {"collimate", "--profile", strange}, {"collimate", "--knobs", strange + "=12,b=4,c=8"}, {strange},
		append([]string{"collimate", "--camera", text}, quiet...), append([]string{"collimate", "--camera", "indi://127.0.0.1:1/" + strange}, quiet...),
		append([]string{"collimate", "--camera", "http://127.0.0.1:1/" + strange}, quiet...), append([]string{"collimate", "--camera", good}, quiet...),
		append([]string{"collimate", "--camera", "virtual:1", "--transcript", text}, quiet...),
	} {
		cmd := exec.CommandContext(t.Context(), "halocue", args...)
		cmd.Env = append(os.Environ(), "HOME="+dir, "HALOCUE_TELESCOPE_APERTURE_MM=200", "HALOCUE_TELESCOPE_FOCAL_LENGTH_MM=1000")
		out, err := cmd.CombinedOutput()
		if exit := (*exec.ExitError)(nil); err != nil && !errors.As(err, &exit) {
			t.Fatal(err)
		}
		if len(out) == 0 {
			t.Errorf("%q prints nothing", args)
		}
		if strings.ContainsAny(string(out), "\u009b\x1b\u202e\u200b") || strings.Contains(string(out), "\nhalocue: all is well") {
			t.Errorf("%q prints %q", args, out)
		}
	}
}

// What hangs is cut short in time; what only reads and prints ends at once.
func TestTheEndIsInTime(t *testing.T) {
	t.Parallel() // after the others that send this process a signal
	cut := make(chan struct{})
	ctx := interruptible(func() { close(cut) })
	start := time.Now()
	if err := syscall.Kill(os.Getpid(), syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := orCancelled(ctx, func() error { <-cut; return nil }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	select {
	case <-cut:
		t.Error("it ends no sooner than what hangs")
	default:
	}
	select {
	case <-cut:
	case <-time.After(10 * time.Second):
		t.Fatal("it goes on")
	}
	if took := time.Since(start); took < 2*time.Second {
		t.Errorf("cut after %v", took)
	}
}

// The C library's threads share their address space: each arena of their own would take
// 64 MB of it, where it is bounded.
func TestAddressSpaceIsShared(t *testing.T) {
	maps, err := os.ReadFile("/proc/self/maps")
	if err != nil {
		t.Fatal(err)
	}
	const arena = 64 << 20 // glibc's HEAP_MAX_SIZE, on 64 bits; it begins at a multiple of it
	arenas, before := 0, uint64(0)
	for line := range strings.Lines(string(maps)) {
		var from, to uint64
		var may string
		if _, err := fmt.Sscanf(line, "%x-%x %s", &from, &to, &may); err != nil {
			t.Fatal(err)
		}
		if before%arena == 0 && may == "---p" && to == before+arena {
			arenas++
		}
		before = from
	}
	if arenas > 1 {
		t.Errorf("%d arenas besides the main one", arenas)
	}
}
