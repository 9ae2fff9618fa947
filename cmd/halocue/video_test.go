package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// A video is decoded by the program that stands beside this one and alone is linked with
// OpenCV, as make build leaves both; where it is missing, that is said.
func TestVideoIsDecodedBeside(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	video := filepath.Join(dir, "star.avi")
	run := func(name string, args ...string) (string, error) {
		cmd := exec.CommandContext(t.Context(), name, args...)
		cmd.Env = append(os.Environ(), "HALOCUE_TELESCOPE_APERTURE_MM=150", "HALOCUE_TELESCOPE_FOCAL_LENGTH_MM=750", "HALOCUE_CONFIG=")
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	itself, err := exec.LookPath("halocue")
	if err != nil {
		t.Fatal(err)
	}
	for _, words := range [][]string{
		{"ffmpeg", "-loglevel", "error", "-loop", "1", "-i", "../../testdata/stars/pair-01-inside.png", "-frames:v", "3", "-c:v", "mjpeg", "-q:v", "2", "-pix_fmt", "yuvj420p", video},
		{"cp", itself, dir},
	} {
		if out, err := run(words[0], words[1:]...); err != nil {
			t.Fatalf("%v: %v\n%s", words, err, out)
		}
	}
	check := []string{"check", "--camera", video, "--sound", "none", "--journal", "none"}
	itself = filepath.Join(dir, "halocue")
	if out, err := run(itself, check...); err == nil || !strings.Contains(out, "there is no halocue-opencv beside") {
		t.Errorf("without it: %v\n%s", err, out)
	}
	if out, err := run("go", "build", "-o", dir, "../halocue-opencv"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if out, err := run(itself, check...); err != nil || !strings.Contains(out, "pixels, and a ring is seen.") {
		t.Errorf("with it: %v\n%s", err, out)
	}
}
