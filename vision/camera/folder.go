package camera

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/still"
)

// pictures reads files one after the other.
type pictures struct {
	paths []string
	files still.Reader
}

func (p *pictures) read(f *frame.Frame) error {
	if len(p.paths) == 0 {
		return io.EOF
	}
	path := p.paths[0]
	p.paths = p.paths[1:]
	if err := p.files.ReadInto(f, path); err != nil {
		return bad(err)
	}
	return nil
}

func (p *pictures) interrupt() {}
func (p *pictures) release()   {}

// openFolder reads the pictures in a folder, by the endings of their names.
func openFolder(dir string, o Options) (vision.Source, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("opening the folder: %w; check that you may read it", err)
	}
	var paths []string
	for _, e := range entries {
		if readable(e) && still.HasExtension(e.Name()) && !strings.HasPrefix(e.Name(), ".") {
			paths = append(paths, filepath.Join(dir, e.Name()))
		}
	}
	if len(paths) == 0 {
		return nil, fmt.Errorf("opening the folder: there is no picture in %s; put PNG, JPEG, TIFF or FITS files into it", dir)
	}
	slices.SortFunc(paths, natural)
	return openPictures(paths, o), nil
}

// readable reports whether an entry is a file, or a link to what may be one; reading it
// will tell. A named pipe among the pictures is none.
func readable(e os.DirEntry) bool { return e.Type().IsRegular() || e.Type()&os.ModeSymlink != 0 }

func openPictures(paths []string, o Options) vision.Source {
	return newSource(&pictures{paths: paths}, traits{name: filepath.Dir(paths[0]), paced: true, pace: o.fps()}, o)
}

// natural compares names as people count: frame 2 before frame 10. Names that
// differ in leading zeros only are kept apart bytewise.
func natural(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		m, n := digits(x), digits(y)
		if m == 0 || n == 0 {
			if x[0] != y[0] {
				return int(x[0]) - int(y[0])
			}
			x, y = x[1:], y[1:]
			continue
		}
		p, q := strings.TrimLeft(x[:m], "0"), strings.TrimLeft(y[:n], "0")
		if len(p) != len(q) {
			return len(p) - len(q)
		}
		if c := strings.Compare(p, q); c != 0 {
			return c
		}
		x, y = x[m:], y[n:]
	}
	if len(x) != len(y) {
		return len(x) - len(y)
	}
	return strings.Compare(a, b)
}

// digits counts the digits at the start of s.
func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}
