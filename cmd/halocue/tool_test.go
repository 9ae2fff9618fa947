package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halocue/audio"
	"halocue/internal/run/parts"
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
	a := &app{parts.World{Stdin: strings.NewReader(""), Stdout: &o, Stderr: &e}}
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

// A camera that goes away in the middle of a measurement ends it with a word of it: these
// tools do not wait for it to come back.
func TestCameraThatGoesAwayEndsATool(t *testing.T) {
	var picture bytes.Buffer
	if err := jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 320, 240)), nil); err != nil {
		t.Fatal(err)
	}
	camera := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=b")
		for range 5 {
			fmt.Fprintf(w, "--b\r\nContent-Type: image/jpeg\r\nContent-Length: %d\r\n\r\n%s\r\n", picture.Len(), picture.Bytes())
		}
		panic(http.ErrAbortHandler)
	}))
	defer camera.Close()
	status, _, errs := tryOut(t, "scale", "--camera", camera.URL, "--sound", "none", "--voice", "none", "--declination", "10")
	if status == 0 || !strings.Contains(errs, "camera") {
		t.Errorf("status %d, %s", status, errs)
	}
}
