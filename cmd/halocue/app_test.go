package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"halocue/internal/run/parts"
)

// try runs one command that takes the settings of all sections and shows what
// reached it.
func try(t *testing.T, env []string, args ...string) (status int, got, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	a := &app{parts.World{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Env: env}}
	cmd := &cobra.Command{Use: "probe", Short: "Probe", RunE: func(cmd *cobra.Command, _ []string) error {
		c, err := a.settings(cmd)
		if err != nil {
			return err
		}
		got = c.Camera.Source
		if c.Telescope.ApertureMM == 203 && c.MirrorCell.Locks {
			got += " and the rest"
		}
		return nil
	}}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "sound", "voice", "site")
	saved := groups
	groups = slices.Clone(groups)
	groups[0].commands = []func(*app) *cobra.Command{func(*app) *cobra.Command { return cmd }}
	defer func() { groups = saved }()
	status = a.run(context.Background(), append([]string{"probe"}, args...))
	return status, got, errs.String()
}

func TestFlagsReachTheSettings(t *testing.T) {
	status, got, stderr := try(t, nil, "--aperture-mm", "203", "--locks", "--camera", "-")
	if status != statusOK || got != "- and the rest" {
		t.Errorf("status %d, %q, %s", status, got, stderr)
	}
}

func TestBadFlagIsAUsageError(t *testing.T) {
	status, _, stderr := try(t, nil, "--aperture-mm=-200")
	if status != statusUsage || !strings.Contains(stderr, "must be from 30 to 2000 mm") {
		t.Errorf("status %d, %s", status, stderr)
	}
}

func TestBadVariableAndFileAreErrors(t *testing.T) {
	status, _, stderr := try(t, []string{"HALOCUE_CAMERA_BARLOW=0"})
	if status != statusError || !strings.Contains(stderr, "HALOCUE_CAMERA_BARLOW") {
		t.Errorf("status %d, %s", status, stderr)
	}
	status, _, stderr = try(t, nil, "--config", "not-there.toml")
	if status != statusError || !strings.Contains(stderr, "not-there.toml") {
		t.Errorf("status %d, %s", status, stderr)
	}
}

func TestFirstInterruptEndsAndSecondCuts(t *testing.T) {
	cut := make(chan struct{})
	ctx := interruptible(func() { close(cut) })
	for _, done := range []<-chan struct{}{ctx.Done(), cut} {
		if err := syscall.Kill(os.Getpid(), syscall.SIGTERM); err != nil {
			t.Fatal(err)
		}
		select {
		case <-done:
		case <-time.After(10 * time.Second):
			t.Fatal("the signal went unheard")
		}
	}
}

// When what read the words has ended, and the terminal with it, the night ends as by
// SIGTERM: the sound file is whole.
func TestNobodyReads(t *testing.T) {
	t.Parallel()
	sound := filepath.Join(t.TempDir(), "night.wav")
	cmd := exec.CommandContext(t.Context(), "halocue", "collimate", "--camera", "virtual:4", "--voice", "none", "--sound", sound)
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, err := out.Read(make([]byte, 1)); err != nil {
		t.Fatal(err)
	}
	out.Close()
	for range 2 { // the kernel's, and the shell's
		if err := cmd.Process.Signal(syscall.SIGHUP); err != nil {
			t.Fatal(err)
		}
	}
	if err := cmd.Wait(); err != nil {
		t.Error(err)
	}
	head, err := os.ReadFile(sound)
	if err != nil || len(head) < 44 || int(binary.LittleEndian.Uint32(head[40:])) != len(head)-44 { // the header's length of the sound
		t.Errorf("%d bytes of sound, %v", len(head), err)
	}
}
