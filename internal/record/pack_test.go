package record

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// A packed recording holds its frames and lines, nothing of anybody else's, and no place,
// even where somebody wrote one into it afterwards; it is never written over a file.
func TestPack(t *testing.T) {
	r, folder := begin(t, Options{})
	for i := range 12 {
		r.Frame(float64(i)/10, noise(320, 240, 160, 120, 255, 0), sightAt(0, 160, 120))
	}
	if _, err := r.Write([]byte(`{"t":1,"event":"device","device":"camera","detail":"http://attic.example/x"}` + "\n")); err != nil {
		t.Fatal(err)
	}
	if err := r.End(time.Now(), "aligned"); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"diary.txt": "at home", Head: `{"format":1,"settings":{"site":{"latitude":51.4779},"mirror_cell":{"knobs":[{"name":"one bump","clock":12}]}}}`,
	} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	file := filepath.Join(t.TempDir(), "out.zip")
	p, err := Pack(folder, file)
	if err != nil || p.Frames != 12 || p.Others != 1 || !slices.Equal(p.Knobs, []string{"one bump"}) {
		t.Errorf("%+v, %v", p, err)
	}
	z, err := zip.OpenReader(file)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	if len(z.File) != 12+3 {
		t.Errorf("%d files", len(z.File))
	}
	for _, f := range z.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"51.4779", "attic", "at home"} {
			if strings.Contains(string(text), word) {
				t.Errorf("%s holds %q", f.Name, word)
			}
		}
	}
	if _, err := Pack(folder, file); err == nil || !strings.Contains(err.Error(), "not there yet") {
		t.Errorf("over a file: %v", err)
	}
	if err := os.Truncate(filepath.Join(folder, "000001.fits.gz"), 10<<30); err != nil { // takes no room on the disk
		t.Fatal(err)
	}
	file = filepath.Join(t.TempDir(), "large.zip")
	if _, err := Pack(folder, file); err == nil || !strings.Contains(err.Error(), "take it out of the folder") {
		t.Errorf("a frame of 10 GB: %v", err)
	}
	if _, err := os.Stat(file); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("what was packed of it stays: %v", err)
	}
	if _, err := Pack(t.TempDir(), filepath.Join(t.TempDir(), "a.zip")); err == nil || !strings.Contains(err.Error(), "no recording") {
		t.Errorf("no recording: %v", err)
	}
}

// Of a transcript without an end only so much is read.
func TestTellingEnds(t *testing.T) {
	for _, line := range []string{`{"event":"say","text":"` + strings.Repeat("x", 60_000) + `"}` + "\n", `{"event":"measure"}` + "\n"} {
		lines := strings.NewReader(strings.Repeat(line, 64<<20/len(line)))
		if _, err := ReadStory(lines); err != nil || lines.Len() < 32<<20 {
			t.Errorf("%.20s: %v, %d bytes are left", line, err, lines.Len())
		}
	}
}

// What is better and worse: the claim first, then how soon it comes.
func TestVerdict(t *testing.T) {
	story := func(result string, ended float64, texts ...string) (s Story) {
		s.Result, s.Ended = result, ended
		for _, text := range texts {
			s.Said = append(s.Said, Said{Text: text})
		}
		return s
	}
	a := story("aligned", 100, "a", "b")
	for want, b := range map[string]Story{
		"same": story("aligned", 100, "a", "b"), "same claim": story("aligned", 105, "a", "c"), "better": story("aligned", 80, "a"), "worse": story("given-up", 50, "a"),
	} {
		if got := Verdict(a, b); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := Verdict(story("", 100), story("as-good-as-the-air-allows", 200, "x")); got != "better" {
		t.Errorf("a claim where there was none is %q", got)
	}
}

// A worked example: 3 and 4 hundredths of a mm apart with sigmas of 0.03 and 0.04 mm is one
// standard deviation in each direction that counts.
func TestAgreement(t *testing.T) {
	claim := func(x, y, sigma float64) (c Claim) {
		c.Known = true
		c.Axis.X, c.Axis.Y, c.Sigma.X, c.Sigma.Y = x, y, sigma, sigma
		return c
	}
	mm, sigmas, err := Agreement(claim(0.10, 0.20, 0.03), claim(0.13, 0.24, 0.04), false)
	if err != nil || mm < 0.0499 || mm > 0.0501 || sigmas < 0.999 || sigmas > 1.001 {
		t.Errorf("%g mm, %g sigma, %v", mm, sigmas, err)
	}
	mm, _, err = Agreement(claim(0.1, 0.2, 0.03), claim(-0.1, -0.2, 0.03), true)
	if err != nil || mm > 1e-9 {
		t.Errorf("turned by half a turn: %g mm, %v", mm, err)
	}
	if _, _, err := Agreement(Claim{}, claim(0, 0, 1), false); err == nil {
		t.Error("nothing known agrees with something")
	}
}

// The rate of frames is that of the times, whatever it is and wherever the camera was away.
func TestRate(t *testing.T) {
	for _, fps := range []float64{0.5, 4, 10, 30, 120} {
		var transcript strings.Builder
		for i := range 200 {
			at := float64(i) / fps
			if i >= 70 {
				at += 60
			}
			fmt.Fprintf(&transcript, `{"t":%.4f,"event":"measure"}`+"\n", at)
		}
		if s, err := ReadStory(strings.NewReader(transcript.String())); err != nil || s.FPS < 0.999*fps || s.FPS > 1.001*fps {
			t.Errorf("%g frames a second are %g, %v", fps, s.FPS, err)
		}
	}
	if s, err := ReadStory(strings.NewReader(`{"t":1,"event":"measure"}`)); err != nil || s.FPS != 0 {
		t.Errorf("one frame: %g, %v", s.FPS, err)
	}
}
