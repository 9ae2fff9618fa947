package still

import (
	"fmt"
	"os"
	"path/filepath"
)

// Files puts the frames of a folder in its place, in the order of their names.
func Files(names []string) (files []string, err error) {
	for _, name := range names {
		if info, err := os.Stat(name); err != nil || !info.IsDir() {
			files = append(files, name) // what is wrong with it, reading it will say
			continue
		}
		entries, err := os.ReadDir(name)
		if err != nil {
			return nil, fmt.Errorf("looking for frames: %w", err)
		}
		n := len(files)
		for _, e := range entries {
			if (e.Type().IsRegular() || e.Type()&os.ModeSymlink != 0) && HasExtension(e.Name()) {
				files = append(files, filepath.Join(name, e.Name()))
			}
		}
		if len(files) == n {
			return nil, fmt.Errorf("%s holds no frames; name a folder of PNG, TIFF, JPEG or FITS files", name)
		}
	}
	return files, nil
}
