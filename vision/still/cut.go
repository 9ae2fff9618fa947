package still

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strconv"

	"halocue/vision/frame"
)

// Reader reads picture files, and keeps the whole frame that the last part was cut from.
// Its zero value is ready.
type Reader struct {
	path        string
	whole, part frame.Frame
}

// partName is the name of a frame of which a recording kept a part only: its number, that
// of a whole frame before it, and where in that its first pixel stands.
var partName = regexp.MustCompile(`^\d{6,}-in-(\d{6,})\+(\d{1,6})\+(\d{1,6})(\.fits\.gz)$`)

// ReadInto is the function of that name. A part that a recording kept comes laid over the
// whole frame that it was cut from.
func (r *Reader) ReadInto(f *frame.Frame, path string) error {
	m := partName.FindStringSubmatch(filepath.Base(path))
	if m == nil {
		return readInto(f, path)
	}
	if err := readInto(&r.part, path); err != nil {
		return err
	}
	whole := filepath.Join(filepath.Dir(path), m[1]+m[4])
	if r.path != whole {
		r.path = ""
		if err := readInto(&r.whole, whole); err != nil {
			return fmt.Errorf("reading the whole frame of which %s is a part: %w", name(path), err)
		}
		r.path = whole
	}
	x, errX := strconv.Atoi(m[2])
	y, errY := strconv.Atoi(m[3])
	p := &r.part
	if errX != nil || errY != nil || x+p.Width > r.whole.Width || y+p.Height > r.whole.Height || p.White != r.whole.White {
		return fmt.Errorf("reading %s: it is no part of %s; copy both again", name(path), name(whole))
	}
	f.Resize(r.whole.Width, r.whole.Height)
	f.White, f.Name = p.White, path
	copy(f.Pix, r.whole.Pix)
	for row := range p.Height {
		copy(f.Pix[(y+row)*f.Width+x:], p.Pix[row*p.Width:][:p.Width])
	}
	return nil
}
