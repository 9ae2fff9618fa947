package camera

import (
	"fmt"
	"io"
	"path/filepath"

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
	paths, err := still.Folder(dir)
	if err != nil {
		return nil, fmt.Errorf("opening the folder: %w; check that you may read it", err)
	}
	if len(paths) == 0 {
		return nil, fmt.Errorf("opening the folder: there is no picture in %s; put PNG, JPEG, TIFF or FITS files into it", dir)
	}
	return openPictures(paths, o), nil
}

func openPictures(paths []string, o Options) vision.Source {
	return newSource(&pictures{paths: paths}, traits{name: filepath.Dir(paths[0]), paced: true, pace: o.fps()}, o)
}
