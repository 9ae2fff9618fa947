package buttons

import (
	"bufio"
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"halocue/audio/command"
)

// Config of a watch. The zero value watches all of /dev/input.
type Config struct {
	Folder string // where the devices are; "" is /dev/input
	// Open opens a device; nil opens the file.
	Open func(path string) (io.ReadCloser, error)
	// Events is told when a device comes, goes, or cannot be read (once for each
	// reason). It may be nil.
	Events func(Event)
}

// Event is something that happened to a device.
type Event struct {
	Path string
	Err  error // nil: it has come; io.EOF and others: it has gone or cannot be opened
	Used bool  // it has gone, and one of its keys meant something before
}

const lookEvery = time.Second // how often new devices are looked for

// Watch reports each command that is pressed until the context ends. Devices may come
// and go; no device at all is not an error.
func Watch(ctx context.Context, c Config, tell func(command.Command)) {
	c.Folder = cmp.Or(c.Folder, "/dev/input")
	if c.Open == nil {
		c.Open = openDevice
	}
	w := &watch{Config: c, open: map[string]io.Closer{}, refused: map[string]string{}, keys: make(chan key)}
	defer w.readers.Wait()
	defer w.closeAll()
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	var one presses
	for w.look(ctx); ; {
		var due <-chan time.Time
		if at, ok := one.next(); ok {
			due = time.After(time.Until(at))
		}
		var said command.Command
		var ok bool
		select {
		case <-ctx.Done():
			return
		case <-look.C:
			w.look(ctx)
		case now := <-due:
			said, ok = one.tick(now)
		case k := <-w.keys:
			if own, any := means(k.code); any {
				said, ok = one.press(k.down, time.Now())
			} else if own != "" && k.down {
				said, ok = own, true
			}
		}
		if ok {
			tell(said)
		}
	}
}

type key struct {
	code uint16
	down bool
}

type watch struct {
	Config
	mu      sync.Mutex
	open    map[string]io.Closer
	refused map[string]string // why, for each device
	keys    chan key
	readers sync.WaitGroup
}

// look opens the devices that are new.
func (w *watch) look(ctx context.Context) {
	paths, _ := filepath.Glob(filepath.Join(w.Folder, "event*")) // the pattern is a good one
	for _, path := range paths {
		w.mu.Lock()
		_, known := w.open[path]
		w.mu.Unlock()
		if known {
			continue
		}
		r, err := w.Open(path)
		if err != nil {
			if w.refused[path] != err.Error() {
				w.refused[path] = err.Error()
				w.event(Event{Path: path, Err: err})
			}
			continue
		}
		delete(w.refused, path)
		w.mu.Lock()
		w.open[path] = r
		w.mu.Unlock()
		w.event(Event{Path: path})
		w.readers.Add(1)
		go w.read(ctx, path, r)
	}
}

// read hands on a device's keys until it goes.
func (w *watch) read(ctx context.Context, path string, r io.ReadCloser) {
	defer w.readers.Done()
	used := false
	for {
		code, value, err := readKey(r)
		if err != nil {
			r.Close()
			w.mu.Lock()
			delete(w.open, path)
			w.mu.Unlock()
			if ctx.Err() == nil {
				w.event(Event{Path: path, Err: err, Used: used})
			}
			return
		}
		own, any := means(code)
		used = used || any || own != ""
		select {
		case w.keys <- key{code, value != 0}:
		case <-ctx.Done():
		}
	}
}

func (w *watch) closeAll() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, r := range w.open {
		r.Close()
	}
}

func (w *watch) event(e Event) {
	if w.Events != nil {
		w.Events(e)
	}
}

// openDevice opens an input device. Without blocking, so that closing it wakes the
// reader.
func openDevice(path string) (io.ReadCloser, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("open a button: %w; add yourself to the group input", err)
	}
	return f, nil
}

// Lines reports the commands that come as lines of text, one name a line (repeat,
// louder, ...), until the text ends. unknown is called with lines that are no command.
func Lines(r io.Reader, tell func(command.Command), unknown func(line string)) error {
	lines := bufio.NewReaderSize(r, longestLine)
	for {
		text, tooLong, err := lines.ReadLine()
		line := strings.ToLower(strings.TrimSpace(string(text)))
		for tooLong && err == nil {
			_, tooLong, err = lines.ReadLine()
			line = ""
		}
		if c, ok := command.Parse(line); ok {
			tell(c)
		} else if line != "" {
			unknown(line)
		}
		switch err {
		case nil:
		case io.EOF:
			return nil
		default:
			return fmt.Errorf("reading commands: %w; no more lines are heeded", err)
		}
	}
}

// longestLine bounds a line, bytes; what is longer is passed over.
const longestLine = 4096
