package plain

import (
	"fmt"
	"os"
	"syscall"
)

// Open opens a file to read that a stranger may have named or made: it must be a regular
// one. A named pipe would wait for ever, a device has no end.
func Open(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		f.Close()
		return nil, fmt.Errorf("%s is not a regular file; name another", Text(path, 200))
	}
	return f, nil
}
