package voice

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"halocue/internal/plain"
)

// store keeps spoken words on disk, so that they are spoken once and not once a night: a
// file each, named after what it holds. A disk that is full, or may not be written, only
// keeps nothing. It is safe for concurrent use, also by several programs.
type store struct {
	dir  string
	most int64 // bytes, of all files together

	mu   sync.Mutex
	size int64  // of all files; -1: not counted yet
	data []byte // of the file that is read or written
}

const (
	// mostKept is some 700 phrases (judgement).
	mostKept = 64 << 20
	// usedAgain is how old the time of the last use may grow before it is written anew, so
	// that a memory card is not written to for each word.
	usedAgain = 24 * time.Hour
	// abandoned is how old a file is that was begun and not finished.
	abandoned = time.Hour

	storeMark   = "halocue clip 1\n\x00" // what a file begins with
	storeSuffix = ".clip"
	storeHeader = len(storeMark) + 4
)

func newStore(dir string, most int64) *store { return &store{dir: dir, most: most, size: -1} }

// path is that of the words of a key.
func (s *store) path(key string) string {
	return filepath.Join(s.dir, fmt.Sprintf("%x", sha256.Sum256([]byte(key)))+storeSuffix)
}

// get returns the samples that are kept under a key. A file that is damaged is thrown
// away: the words are spoken again.
func (s *store) get(key string) ([]int16, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	path := s.path(key)
	f, err := plain.Open(path)
	if err != nil {
		return nil, false
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil || info.Size() > int64(storeHeader+longestSpeech) {
		return nil, false
	}
	s.data = slices.Grow(s.data[:0], int(info.Size()))[:info.Size()]
	if _, err := io.ReadFull(f, s.data); err != nil {
		return nil, false
	}
	body, ok := bytes.CutPrefix(s.data, []byte(storeMark))
	if !ok || len(body) <= 4 || len(body)%2 != 0 || binary.LittleEndian.Uint32(body) != sum(key, body[4:]) {
		_ = os.Remove(path) // if it stays, it is damaged the next time too
		return nil, false
	}
	if time.Since(info.ModTime()) > usedAgain {
		_ = os.Chtimes(path, time.Time{}, time.Now()) // else it is thrown away earlier
	}
	return samples(body[4:], 1), true
}

// sum is the checksum of samples and what they say.
func sum(key string, samples []byte) uint32 {
	return crc32.Update(crc32.ChecksumIEEE([]byte(key)), crc32.IEEETable, samples)
}

// put keeps samples under a key, and reports whether it could.
func (s *store) put(key string, pcm []int16) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	data := append(s.data[:0], storeMark...)
	data = append(data, 0, 0, 0, 0)
	for _, v := range pcm {
		data = binary.LittleEndian.AppendUint16(data, uint16(v))
	}
	binary.LittleEndian.PutUint32(data[len(storeMark):], sum(key, data[storeHeader:]))
	s.data = data
	if os.MkdirAll(s.dir, 0o700) != nil {
		return false
	}
	if s.size < 0 || s.size+int64(len(data)) > s.most {
		s.clean(int64(len(data)))
	}
	if writeWhole(s.dir, s.path(key), data) != nil {
		return false
	}
	s.size += int64(len(data))
	return true
}

// writeWhole writes a file, or nothing.
func writeWhole(dir, path string, data []byte) error {
	f, err := os.CreateTemp(dir, "*.new")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err := cmp.Or(err, f.Close()); err != nil {
		_ = os.Remove(f.Name()) // clean finds it
		return err
	}
	return os.Rename(f.Name(), path)
}

// clean makes room: what was used least recently goes, and what was never finished. It
// looks at nothing but its own files.
func (s *store) clean(room int64) {
	type file struct {
		path string
		used time.Time
		size int64
	}
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return
	}
	var files []file
	s.size = 0
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		path := filepath.Join(s.dir, e.Name())
		switch {
		case strings.HasSuffix(e.Name(), storeSuffix):
			files = append(files, file{path, info.ModTime(), info.Size()})
			s.size += info.Size()
		case strings.HasSuffix(e.Name(), ".new") && time.Since(info.ModTime()) > abandoned:
			_ = os.Remove(path)
		}
	}
	if s.size+room <= s.most {
		return
	}
	slices.SortFunc(files, func(a, b file) int { return a.used.Compare(b.used) })
	for _, f := range files {
		if s.size+room <= s.most*9/10 { // so that it is not done for each
			return
		}
		if os.Remove(f.path) == nil {
			s.size -= f.size
		}
	}
}
