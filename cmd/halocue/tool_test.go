package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halocue/audio"
)

// The virtual camera is turned when it is said to be: the circle's middle is that of
// the frame of 1280 by 960, (639.5, 479.5), about which it turns.
func TestVirtualCameraIsTurned(t *testing.T) {
	status, out, errs := tryOut(t, "wobble", "--turned", "--camera", "virtual", "--clock", "frames", "--sound", "none", "--pause", "0", "--look", "0.3")
	if status != 0 || !strings.Contains(out, "centre_px = [639.") && !strings.Contains(out, "centre_px = [640.") {
		t.Errorf("status %d\n%s%s", status, out, errs)
	}
}

// A star is spoken, not only printed; half a place is asked about, not taken for the
// meridian of Greenwich.
func TestStarIsSpoken(t *testing.T) {
	wav := filepath.Join(t.TempDir(), "star.wav")
	place := []string{"star", "--at", "2026-12-01T21:00:00Z", "--latitude", "51.5"}
	if status, _, errs := tryOut(t, place...); status != 2 || !strings.Contains(errs, "--longitude") {
		t.Errorf("half a place: status %d, %s", status, errs)
	}
	status, out, errs := tryOut(t, append(place, "--longitude", "-0.1", "--sound", wav, "--voice", "espeak-ng")...)
	if status != 0 || !strings.Contains(out, "Point at Polaris") {
		t.Fatalf("status %d\n%s%s", status, out, errs)
	}
	// Two seconds of 16-bit samples; the sentence takes longer in any voice.
	if info, err := os.Stat(wav); err != nil || info.Size() < 2*2*audio.Rate {
		t.Errorf("the star is not heard: %v, %v", info, err)
	}
}

func tryOut(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	a := &app{stdin: strings.NewReader(""), stdout: &o, stderr: &e}
	status = a.run(context.Background(), args)
	return status, o.String(), e.String()
}

// A number that is none is answered in words.
func TestFlagsThatAreNoNumbers(t *testing.T) {
	for _, c := range []struct{ flag, want string }{{"--seed=x", "give a whole number"}, {"--fps=x", "give a number"}} {
		args := []string{"practice", c.flag}
		if c.flag == "--fps=x" {
			args[0] = "spikes"
		}
		if status, _, errs := tryOut(t, args...); status != 2 || !strings.Contains(errs, c.want) || strings.Contains(errs, "strconv") {
			t.Errorf("%s: status %d, %s", c.flag, status, errs)
		}
	}
}
