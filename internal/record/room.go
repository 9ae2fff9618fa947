package record

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"time"
)

// Pictures matches the names of a recording's frames.
var Pictures = regexp.MustCompile(`^\d{6,}(-in-\d{6,}\+\d+\+\d+)?\.(jpg|fits\.gz)$`)

// Folder is the usual folder of a night among the others, by when it began.
func Folder(usual string, began time.Time) string {
	return filepath.Join(usual, began.UTC().Format("2006-01-02T150405Z"))
}

// Free is how many bytes are left on a folder's disk for who is not root.
func Free(folder string) (int64, error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * s.Bsize, nil
}

// MakeRoom bounds the recordings in the usual place beside one that begins: those that began
// longer ago than age go, and of the rest the oldest give up frames, first all but one a
// second, then all, until the frames take no more than most bytes. The last night keeps
// all. Folders and files of others stay.
func MakeRoom(usual, begun string, most int64, age time.Duration, now time.Time) error {
	entries, err := os.ReadDir(usual)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	var nights []kept
	for _, e := range entries {
		folder := filepath.Join(usual, e.Name())
		if n, _, bad := Read(folder); bad == nil && folder != begun {
			nights = append(nights, kept{folder: folder, began: n.Began})
		}
	}
	slices.SortFunc(nights, func(a, b kept) int { return a.began.Compare(b.began) })
	total := int64(0)
	for i := range nights {
		total += nights[i].measure()
	}
	for i, n := range nights {
		if i == len(nights)-1 {
			break
		}
		if now.Sub(n.began) > age {
			total -= n.bytes
			err = errors.Join(err, n.remove())
			continue
		}
		for _, keep := range []func(string) bool{n.eachSecond(), func(string) bool { return false }} {
			if total <= most {
				break
			}
			freed, bad := n.thin(keep)
			total -= freed
			n.bytes -= freed
			err = errors.Join(err, bad)
		}
	}
	if err != nil {
		return fmt.Errorf("making room for a recording: %w; delete old ones in %s", err, usual)
	}
	return nil
}

// kept is a recording among the others.
type kept struct {
	folder string
	began  time.Time
	bytes  int64 // of its frames
	sizes  map[string]int64
}

func (k *kept) measure() int64 {
	k.sizes = map[string]int64{}
	entries, _ := os.ReadDir(k.folder) // what cannot be read takes no part
	for _, e := range entries {
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() && Pictures.MatchString(e.Name()) {
			k.sizes[e.Name()] = info.Size()
			k.bytes += info.Size()
		}
	}
	return k.bytes
}

// thin deletes the frames that keep does not want.
func (k *kept) thin(keep func(name string) bool) (freed int64, err error) {
	for name, size := range k.sizes {
		if keep(name) {
			continue
		}
		if bad := os.Remove(filepath.Join(k.folder, name)); bad != nil {
			err = errors.Join(err, bad)
			continue
		}
		freed += size
		delete(k.sizes, name)
	}
	return freed, err
}

// eachSecond wants one whole frame a second.
func (k *kept) eachSecond() func(name string) bool {
	want, last := map[string]bool{}, -wholeEvery
	f, err := os.Open(filepath.Join(k.folder, Transcript))
	if err != nil {
		return func(string) bool { return false }
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, LongestLine)
	for lines.Scan() {
		var e FrameEvent
		if err := json.Unmarshal(lines.Bytes(), &e); err == nil && e.Event == "frame" && !strings.Contains(e.File, "-in-") && e.T >= last+wholeEvery-1e-6 {
			want[e.File], last = true, e.T
		}
	}
	if lines.Err() != nil { // what comes after it is not known
		return func(string) bool { return true }
	}
	return func(name string) bool { return want[name] }
}

// remove deletes a recording, and its folder if it holds nothing else.
func (k *kept) remove() error {
	_, err := k.thin(func(string) bool { return false })
	for _, name := range []string{Transcript, Journal, Readme, Head} {
		if bad := forget(filepath.Join(k.folder, name)); bad != nil {
			err = errors.Join(err, bad)
		}
	}
	_ = os.Remove(k.folder) // others' files keep it
	return err
}
