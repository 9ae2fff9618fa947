package still

import (
	"bytes"
	"compress/gzip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"halocue/vision/frame"
)

// A folder's pictures are its files and links with the ending of one, counted as people do;
// what is hidden, a folder or a pipe is none.
func TestFolderListsPictures(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"frame-10.png", "frame-2.FITS", "notes.txt", ".hidden.png"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, err := range []error{
		os.Mkdir(filepath.Join(dir, "folder.png"), 0o700), syscall.Mkfifo(filepath.Join(dir, "pipe.png"), 0o600),
		os.Symlink("frame-10.png", filepath.Join(dir, "frame-1.png")),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	got, err := Folder(dir)
	for i := range got {
		got[i] = filepath.Base(got[i])
	}
	if want := []string{"frame-1.png", "frame-2.FITS", "frame-10.png"}; err != nil || !slices.Equal(got, want) {
		t.Errorf("%v, %v; want %v", got, err, want)
	}
}

// A frame of a single row or column has no cells of two by two, and stays as it is.
func TestMosaicOfALine(t *testing.T) {
	for _, size := range [][2]int{{1, 3}, {3, 1}} {
		f := &frame.Frame{Width: size[0], Height: size[1], Pix: []float32{1, 2, 3}}
		if mosaic(f); f.Width != size[0] || f.Height != size[1] || !slices.Equal(f.Pix, []float32{1, 2, 3}) {
			t.Errorf("%v became %d x %d, %v", size, f.Width, f.Height, f.Pix)
		}
	}
}

// A packed file and what it unpacks to are in memory together, and so are bounded together.
func TestPackedAndUnpackedAreBoundedTogether(t *testing.T) {
	head := []byte("SIMPLE  =                    T")
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.NoCompression)
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range [][]byte{head, make([]byte, MaxBytes*6/10)} {
		if _, err := z.Write(part); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := decoded(b.Bytes()); err == nil || !strings.Contains(err.Error(), "larger than") {
		t.Errorf("%v", err)
	}
}

// Folders give way to their frames; a file, even one that is missing, stays; an empty folder is
// an error.
func TestFilesTakesFoldersApart(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"b.png", "a.png"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	missing := filepath.Join(dir, "missing.png")
	got, err := Files([]string{missing, dir, filepath.Join(dir, "b.png")})
	want := []string{missing, filepath.Join(dir, "a.png"), filepath.Join(dir, "b.png"), filepath.Join(dir, "b.png")}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%v, %v", got, err)
	}
	if got, err := Files([]string{t.TempDir()}); err == nil {
		t.Errorf("an empty folder is %v", got)
	}
}

// A row of raw samples: a byte each, two with the low one first, or blue, green and red, of
// which a grey stays as it is and a burnt one is white.
func TestRow(t *testing.T) {
	for bytes, c := range map[int]struct {
		raw  []byte
		want []float32
	}{
		1: {[]byte{7, 250}, []float32{7, 250}},
		2: {[]byte{1, 2, 255, 255}, []float32{513, 65535}},
		3: {[]byte{50, 50, 50, 10, 20, 255}, []float32{50, 255}},
	} {
		out := make([]float32, 2)
		Row(out, c.raw, bytes)
		for i := range out {
			if d := out[i] - c.want[i]; d > 1e-3 || d < -1e-3 {
				t.Errorf("%d bytes: %v, want %v", bytes, out, c.want)
			}
		}
	}
}

// Of what is no picture it is said whether it is text, so that a wrong name is noticed.
func TestWhatIsNoPicture(t *testing.T) {
	for data, want := range map[string]string{"": "empty", "a letter\n": "text", "\x01\x02": "not a picture that can be read"} {
		if _, err := decoded([]byte(data)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", data, err)
		}
	}
}
