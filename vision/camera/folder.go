package camera

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"
	"sync"
	"time"

	"halocue/internal/frame"
	"halocue/vision"
	"halocue/vision/still"
)

// folder delivers the pictures of a folder in their natural order.
type folder struct {
	clock
	files []string
	close chan struct{}
	once  sync.Once
	next  time.Time
}

func openFolder(path string, o Options) (vision.Source, error) {
	entries, err := os.ReadDir(path)
	if err != nil {
		return nil, fmt.Errorf("opening the folder of frames: %w; check that it can be read", err)
	}
	s := &folder{clock: clock{o: o}, close: make(chan struct{})}
	for _, e := range entries {
		if !e.IsDir() && still.HasExtension(e.Name()) {
			s.files = append(s.files, filepath.Join(path, e.Name()))
		}
	}
	if len(s.files) == 0 {
		return nil, fmt.Errorf("no pictures in %s; put PNG, JPEG, TIFF or FITS files there", path)
	}
	sort.Slice(s.files, func(i, j int) bool { return natural(s.files[i], s.files[j]) })
	return s, nil
}

// Next reads the next file; by the wall clock at the pace of FPS.
func (s *folder) Next(ctx context.Context) (*frame.Frame, error) {
	if !s.o.Frames && !s.next.IsZero() {
		wait := time.NewTimer(time.Until(s.next))
		defer wait.Stop()
		select {
		case <-wait.C:
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-s.close:
		}
	}
	select {
	case <-s.close:
		return nil, vision.ErrClosed
	default:
	}
	if s.seq >= uint64(len(s.files)) {
		return nil, io.EOF
	}
	s.next = time.Now().Add(time.Duration(float64(time.Second) / s.o.FPS))
	name := s.files[s.seq]
	seq, t := s.stamp()
	f, err := still.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", vision.ErrBadFrame, err)
	}
	f.Seq, f.T, f.Name = seq, t, name
	return f, nil
}

func (s *folder) Close() error {
	s.once.Do(func() { close(s.close) })
	return nil
}

// natural orders names as a person counts: frame-9 before frame-10.
func natural(a, b string) bool {
	for a != "" && b != "" {
		na, nb := digits(a), digits(b)
		if na > 0 && nb > 0 {
			x, y := trimZeros(a[:na]), trimZeros(b[:nb])
			if len(x) != len(y) {
				return len(x) < len(y)
			}
			if x != y {
				return x < y
			}
			a, b = a[na:], b[nb:]
			continue
		}
		if a[0] != b[0] {
			return a[0] < b[0]
		}
		a, b = a[1:], b[1:]
	}
	return len(a) < len(b)
}

func digits(s string) (n int) {
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

func trimZeros(s string) string {
	for len(s) > 1 && s[0] == '0' {
		s = s[1:]
	}
	return s
}
