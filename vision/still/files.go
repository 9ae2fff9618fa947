package still

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Folder lists the pictures in a folder, by the endings of their names, as people count them.
// A named pipe among them is none; what a link leads to, reading it will tell.
func Folder(dir string) (paths []string, err error) {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		file := e.Type().IsRegular() || e.Type()&os.ModeSymlink != 0
		if file && HasExtension(e.Name()) && !strings.HasPrefix(e.Name(), ".") {
			paths = append(paths, filepath.Join(dir, e.Name()))
		}
	}
	slices.SortFunc(paths, natural)
	return paths, err
}

// Files puts the frames of a folder in its place.
func Files(names []string) (files []string, err error) {
	for _, name := range names {
		if info, err := os.Stat(name); err != nil || !info.IsDir() {
			files = append(files, name) // what is wrong with it, reading it will say
			continue
		}
		list, err := Folder(name)
		if err != nil {
			return nil, fmt.Errorf("looking for frames: %w; check that you may read the folder", err)
		}
		if len(list) == 0 {
			return nil, fmt.Errorf("%s holds no frames; name a folder of PNG, TIFF, JPEG or FITS files", name)
		}
		files = append(files, list...)
	}
	return files, nil
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
