package session

import (
	"bytes"
	"context"
	"image"
	stdjpeg "image/jpeg"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halocue/config"
	"halocue/internal/record"
	"halocue/internal/run/parts"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
)

// recordNight records a night of the simulated telescope, whose frames come through the
// camera that the settings name.
func recordNight(t *testing.T, camera string, src *telescope.Source, stdin io.Reader) (folder string) {
	t.Helper()
	folder = filepath.Join(t.TempDir(), "night")
	c := virtual.Settings(config.Default(), src.Night())
	c.Camera.Source, c.Sound.Output, c.Voice.Engine = camera, "none", "none"
	c.Site = config.Site{LatitudeDeg: 51.4779, LongitudeDeg: -0.0015, RoofLineDeg: 20}
	w := &parts.World{Stdin: stdin, Stdout: io.Discard, Stderr: io.Discard, Env: []string{"HOME=" + t.TempDir()}}
	err := Night(t.Context(), w, c, Options{Frames: true, FPS: virtual.FPS, Journal: filepath.Join(t.TempDir(), "journal.db"), Record: folder, Version: "test"},
		Virtual{Hands: src.Hear})
	if err != nil {
		t.Fatal(err)
	}
	return folder
}

func again(t *testing.T, folder string) Again {
	t.Helper()
	a, err := ReplayFolder(t.Context(), &parts.World{Stdout: io.Discard, Stderr: io.Discard}, folder, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// pipe sends the telescope's frames as JPEG after JPEG, each with a position in it as some
// cameras write one.
func pipe(ctx context.Context, src *telescope.Source) io.ReadCloser {
	r, w := io.Pipe()
	go func() {
		for {
			f, err := src.Next(ctx)
			if err != nil {
				w.CloseWithError(io.EOF)
				return
			}
			img := image.NewGray(image.Rect(0, 0, f.Width, f.Height))
			for i, v := range f.Pix {
				img.Pix[i] = byte(v)
			}
			var b bytes.Buffer
			err = stdjpeg.Encode(&b, img, &stdjpeg.Options{Quality: 92})
			exif := "\xff\xe1\x00\x1cExif\x00\x00 at 51.4779 N, #4711"
			if err == nil {
				_, err = io.WriteString(w, "\xff\xd8"+exif+b.String()[2:])
			}
			if err != nil { // the night is over
				return
			}
		}
	}()
	return r
}

// demo is a night with a camera of 8 bits, small enough for a test.
func demo(seed uint64) *telescope.Source {
	return telescope.NewSource(telescope.Demo(seed), virtual.Options(virtual.FPS, true))
}

// A night whose frames came as JPEG is kept whole, and replayed to the same words; with
// frames thinned and the end torn off, to the same claim or to none.
func TestProveNightThroughAPipe(t *testing.T) {
	src := demo(1)
	in := pipe(t.Context(), src)
	defer in.Close()
	folder := recordNight(t, "-", src, in)
	a := again(t, folder)
	if a.Night.Result == "" || a.Then.Result != a.Night.Result || len(a.Then.Said) < 5 || a.Measured != a.Then.Frames || a.Missing != 0 || a.Night.Dropped != 0 {
		t.Fatalf("%+v\n%d said, %d measured of %d, %d missing", a.Night, len(a.Then.Said), a.Measured, a.Then.Frames, a.Missing)
	}
	if i := record.FirstDifference(a.Then, a.Now); i >= 0 || len(a.Remarks) > 0 {
		t.Errorf("from cue %d on it says something else:\n%+v\n%+v\n%q", i, a.Then.Said, a.Now.Said, a.Remarks)
	}
	t.Logf("%d frames in %.0f s, %d kB a frame, %d dropped", a.Night.Frames, a.Then.Ended, a.Night.Bytes/int64(a.Night.Frames)/1000, a.Night.Dropped)
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	pictures := 0
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(folder, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(text, []byte("51.4779")) || bytes.Contains(text, []byte("#4711")) {
			t.Errorf("%s tells the place", e.Name())
		}
		if strings.HasSuffix(e.Name(), ".jpg") {
			if pictures++; pictures%3 != 0 {
				if err := os.Remove(filepath.Join(folder, e.Name())); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	if rows, err := os.ReadFile(filepath.Join(folder, record.Journal)); err != nil || bytes.Count(rows, []byte("\n")) < 20 {
		t.Errorf("%d bytes of the journal, %v", len(rows), err)
	}
	if a := again(t, folder); a.Now.Result != a.Then.Result || a.Missing == 0 || len(a.Remarks) != 1 {
		t.Errorf("thinned: %q became %q, %q", a.Then.Result, a.Now.Result, a.Remarks)
	}
	// As kill -9 leaves it, with frames that are none and files that are somebody's.
	path := filepath.Join(folder, record.Transcript)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string][]byte{record.Transcript: text[:len(text)*2/3], "000003.jpg": []byte("mine"), "notes.txt": []byte("mine")} {
		if err := os.WriteFile(filepath.Join(folder, name), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if a := again(t, folder); a.Now.Result == "aligned" || a.Frames < 50 || len(a.Remarks) != 2 || !strings.Contains(strings.Join(a.Remarks, " "), "was cut off") {
		t.Errorf("cut off: %q after %d frames, %q", a.Now.Result, a.Frames, a.Remarks)
	}
}
