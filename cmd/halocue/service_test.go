package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"halocue/internal/run/parts"
)

// heard is what was printed so far.
type heard struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (h *heard) Write(p []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.buf.Write(p)
}

func (h *heard) text() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.buf.String()
}

// until waits for n times the words.
func (h *heard) until(t *testing.T, words string, n int) {
	t.Helper()
	for end := time.Now().Add(180 * time.Second); strings.Count(h.text(), words) < n; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%q was not said %d times:\n%s", words, n, h.text())
		}
	}
}

// guided runs guide --wait in an empty home, with what is typed; stop ends it.
func guided(t *testing.T, args ...string) (said *heard, typed io.Writer, home string, stop func()) {
	t.Helper()
	return guidedOn(t, "", args...)
}

// guidedOn does so on a computer whose kernel's files hang in root.
func guidedOn(t *testing.T, root string, args ...string) (said *heard, typed io.Writer, home string, stop func()) {
	t.Helper()
	said, home = &heard{}, t.TempDir()
	stdin, typing := io.Pipe()
	a := &app{parts.World{Stdin: stdin, Stdout: said, Stderr: said, Env: []string{"HOME=" + home}, Root: root}}
	ctx, cancel := context.WithCancel(context.Background())
	status := make(chan int, 1)
	go func() {
		status <- a.run(ctx, append([]string{"guide", "--wait", "--sound", "none", "--voice", "none", "--speed-wpm", "450"}, args...))
	}()
	return said, typing, home, func() {
		cancel()
		if got := <-status; got != statusOK {
			t.Errorf("status %d:\n%s", got, said.text())
		}
		typing.Close()
	}
}

// welcomed is the beginning of what a night on the virtual telescope says first.
const welcomed = "Halocue. I say"

// A night that is over begins again with one word or press, and not by itself.
func TestOneWordBeginsAnotherNight(t *testing.T) {
	t.Parallel() // it waits by the clock
	said, typed, _, stop := guided(t, "--camera", "virtual:3")
	said.until(t, welcomed, 1)
	io.WriteString(typed, "finished\n")
	said.until(t, "result: given-up", 1)
	io.WriteString(typed, "louder\n")
	time.Sleep(300 * time.Millisecond)
	if strings.Count(said.text(), welcomed) != 1 {
		t.Errorf("a night began unasked:\n%s", said.text())
	}
	io.WriteString(typed, "go-on\n")
	said.until(t, welcomed, 2)
	stop()
	if !strings.Contains(said.text(), "result: none") {
		t.Errorf("the second night did not end in words:\n%s", said.text())
	}
}

// A camera that is not there is said, waited for, and used when it comes. The
// first night hears the cautions.
func TestWaitsForTheCamera(t *testing.T) {
	t.Parallel() // it waits by the clock
	camera := filepath.Join(t.TempDir(), "frames")
	said, _, _, stop := guided(t, "--camera", camera, "--aperture-mm", "203", "--focal-length-mm", "1200")
	said.until(t, "Never point at the Sun.", 1)
	said.until(t, "No camera.", 1)
	if err := os.Mkdir(camera, 0o700); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile("../../testdata/stars/pair-01-inside.png")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(camera, "1.png"), b, 0o600); err != nil {
		t.Fatal(err)
	}
	said.until(t, "No more pictures.", 1)
	said.until(t, "1 frames, 0 of them unreadable", 1)
	stop()
}

// Where nobody reads, what keeps a night from being is spoken, and waited for: the
// night begins once the settings are mended.
func TestComplaintIsSpokenAndWaitedFor(t *testing.T) {
	t.Parallel() // it waits by the clock
	home := t.TempDir()
	settings, sound := filepath.Join(home, "halocue.toml"), filepath.Join(home, "said.wav")
	if err := os.WriteFile(settings, []byte("[telescope]\naperture_mm = 200\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out heard
	a := &app{parts.World{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &out, Env: []string{"HOME=" + home}}}
	ctx, cancel := context.WithCancel(context.Background())
	status := make(chan int, 1)
	go func() {
		status <- a.run(ctx, []string{"guide", "--wait", "--config", settings, "--camera", filepath.Join(home, "none"), "--speed-wpm", "450", "--sound", sound, "--journal", "none"})
	}()
	out.until(t, "focal length is not known", 1)
	for end := time.Now().Add(3 * time.Minute); ; time.Sleep(50 * time.Millisecond) {
		if info, err := os.Stat(sound); err == nil && info.Size() > 48000 {
			break
		}
		if time.Now().After(end) {
			t.Fatal("nothing was said")
		}
	}
	if err := os.WriteFile(settings, []byte("[telescope]\naperture_mm = 200\nfocal_length_mm = 1000\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out.until(t, "No camera.", 1)
	cancel()
	if got := <-status; got != statusOK || strings.Count(out.text(), "not known") != 1 {
		t.Errorf("status %d after:\n%s", got, out.text())
	}
}

// While the Sun is up a night waits for a word, or is refused where there can be none.
func TestDaylightNeedsAWord(t *testing.T) {
	t.Parallel() // it waits by the clock
	noon := func() time.Time { return time.Date(2030, 6, 1, 12, 0, 0, 0, time.UTC) }
	place := []string{"--aperture-mm", "200", "--focal-length-mm", "1000", "--sound", "none", "--voice", "none", "--speed-wpm", "450", "--journal", "none",
		"--config", filepath.Join(t.TempDir(), "halocue.toml")}
	if err := os.WriteFile(place[len(place)-1], []byte("[site]\nlatitude = 50\nlongitude = 10\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	run := func(t *testing.T, stdin io.Reader, clock func() time.Time, args ...string) (*heard, chan int) {
		out, status := &heard{}, make(chan int, 1)
		a := &app{parts.World{Stdin: stdin, Stdout: out, Stderr: out, Env: []string{"HOME=" + t.TempDir()}, Clock: clock}}
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
		t.Cleanup(cancel)
		go func() { status <- a.run(ctx, append(append([]string{"guide"}, place...), args...)) }()
		return out, status
	}
	star := "../../testdata/stars/pair-01-inside.png"
	t.Run("a word", func(t *testing.T) {
		t.Parallel()
		stdin, typing := io.Pipe()
		defer typing.Close()
		out, status := run(t, stdin, noon, "--camera", star)
		out.until(t, "The Sun is up.", 1)
		time.Sleep(time.Second)
		if strings.Contains(out.text(), "Never turn a screw") {
			t.Error("the night began without a word")
		}
		io.WriteString(typing, "go-on\n")
		out.until(t, "Never turn a screw", 1)
		if got := <-status; got != statusOK {
			t.Errorf("status %d:\n%s", got, out.text())
		}
	})
	for name, c := range map[string]struct {
		clock  func() time.Time
		args   []string
		status int
	}{
		"by day":    {noon, []string{"--camera", star, "--by-day"}, statusOK},
		"no answer": {noon, []string{"--camera", "-"}, statusError},
		"midnight":  {func() time.Time { return noon().Add(12 * time.Hour) }, []string{"--camera", star}, statusOK},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			jpeg := strings.NewReader("")
			out, status := run(t, jpeg, c.clock, c.args...)
			if got := <-status; got != c.status || strings.Contains(out.text(), "Sun is up") != (c.status == statusError) {
				t.Errorf("%v: status %d\n%s", c.args, got, out.text())
			}
		})
	}
}
