package buttons

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"halocue/audio/command"
)

// gestures plays presses (d: down, u: up, at milliseconds) and lets time go by in
// steps of 10 ms.
func gestures(script string) (said []string) {
	var p presses
	start := time.Unix(1000, 0)
	steps := map[int]bool{}
	for _, word := range strings.Fields(script) {
		at, _ := strconv.Atoi(word[1:])
		steps[at] = word[0] == 'd'
	}
	for at := 0; at < 5000; at += 10 {
		now := start.Add(time.Duration(at) * time.Millisecond)
		c, ok := p.tick(now)
		if down, pressed := steps[at]; pressed {
			if ok {
				said = append(said, fmt.Sprint(c, "@", at))
			}
			c, ok = p.press(down, now)
		}
		if ok {
			said = append(said, fmt.Sprint(c, "@", at))
		}
	}
	return said
}

func TestGestures(t *testing.T) {
	for script, want := range map[string]string{
		"d100 u200":                     "go-on@550",
		"d100 u200 d400 u480":           "repeat@480",
		"d100 u1500":                    "wait@800", // told while it is still held
		"d100 u200 d700 u800":           "go-on@550 go-on@1150",
		"d100 u200 d400 u1500":          "wait@1100",
		"d100 d150 d190 u200":           "go-on@550", // the keyboard repeats
		"d100 u200 d300 u340 d500 u600": "repeat@340 go-on@950",
	} {
		if got := strings.Join(gestures(script), " "); got != want {
			t.Errorf("%s: %s, want %s", script, got, want)
		}
	}
}

// event is a struct input_event.
func event(code uint16, value int32) []byte {
	b := make([]byte, eventSize)
	tail := b[eventSize-8:]
	binary.NativeEndian.PutUint16(tail, eventKey)
	binary.NativeEndian.PutUint16(tail[2:], code)
	binary.NativeEndian.PutUint32(tail[4:], uint32(value))
	return b
}

// tap presses and releases a key, with the synchronisation events that the kernel
// sends after each.
func tap(code uint16) []byte {
	sync := make([]byte, eventSize)
	return append(append(append(event(code, 1), sync...), event(code, 0)...), sync...)
}

type ledger struct {
	mu   sync.Mutex
	said []command.Command
	gone int
	used int // of those that have gone
	come int
}

func (l *ledger) tell(c command.Command) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.said = append(l.said, c)
}

func (l *ledger) event(e Event) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if e.Err == nil {
		l.come++
	} else {
		l.gone++
	}
	if e.Used {
		l.used++
	}
}

func (l *ledger) until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		l.mu.Lock()
		done := ok()
		l.mu.Unlock()
		if done {
			return
		}
	}
	t.Fatalf("%s: %+v", what, l.said)
}

// A device comes, is pressed, goes, and comes back. The devices are pipes here: no
// machine that tests run on has a hand at its keyboard.
func TestDevicesComeAndGo(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "event3")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	pipes := make(chan *io.PipeWriter, 8)
	var l ledger
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		Watch(ctx, Config{Folder: dir, Events: l.event, Open: func(string) (io.ReadCloser, error) {
			r, w := io.Pipe()
			pipes <- w
			return r, nil
		}}, l.tell)
	}()
	const space, volumeUp, shift, finger = 57, 115, 42, 0x14a
	keyboard := <-pipes
	for _, code := range []uint16{shift, finger, volumeUp, space} {
		if _, err := keyboard.Write(tap(code)); err != nil {
			t.Fatal(err)
		}
	}
	l.until(t, "louder and go on", func() bool {
		return len(l.said) == 2 && l.said[0] == command.Louder && l.said[1] == command.GoOn
	})
	keyboard.Close()
	keyboard = <-pipes
	l.until(t, "it has gone and come back", func() bool { return l.gone == 1 && l.used == 1 && l.come == 2 })
	for range 2 {
		if _, err := keyboard.Write(tap(space)); err != nil {
			t.Fatal(err)
		}
	}
	l.until(t, "repeat", func() bool { return len(l.said) == 3 && l.said[2] == command.Repeat })
	keyboard.Close()
	keyboard = <-pipes
	if _, err := keyboard.Write(tap(shift)); err != nil { // which means nothing
		t.Fatal(err)
	}
	keyboard.Close()
	l.until(t, "one goes that was not used", func() bool { return l.gone == 3 && l.used == 2 })
	cancel()
	select {
	case <-done:
	case <-time.After(5 * time.Second):
		t.Fatal("the watch does not end")
	}
}

func TestDeviceThatMayNotBeRead(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "event0"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "event1"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 1500*time.Millisecond)
	defer cancel()
	var all []Event
	refuse := func(string) (io.ReadCloser, error) { return nil, errors.New("in use") }
	Watch(ctx, Config{Folder: dir, Open: refuse, Events: func(e Event) { all = append(all, e) }}, func(command.Command) {})
	refused := map[string]int{}
	for _, e := range all {
		if e.Err != nil {
			refused[filepath.Base(e.Path)]++
		}
	}
	// Each is reported once, not at every look.
	if refused["event1"] != 1 {
		t.Errorf("events %v", all)
	}
}

func TestLines(t *testing.T) {
	var said []command.Command
	var odd []string
	err := Lines(strings.NewReader("repeat\n\n  GO-ON \nfly away\r\nstatus"), func(c command.Command) { said = append(said, c) }, func(l string) { odd = append(odd, l) })
	if err != nil || fmt.Sprint(said) != "[repeat go-on status]" || fmt.Sprint(odd) != "[fly away]" {
		t.Errorf("%v, %q, %v", said, odd, err)
	}
}

// A line without end is passed over, and those after it are heeded.
func TestEndlessLine(t *testing.T) {
	var said []command.Command
	text := "repeat\n" + strings.Repeat("wait ", 100_000) + "\nstatus\n"
	err := Lines(strings.NewReader(text), func(c command.Command) { said = append(said, c) }, func(l string) { t.Errorf("told of %.20q", l) })
	if err != nil || fmt.Sprint(said) != "[repeat status]" {
		t.Errorf("%v, %v", said, err)
	}
}

func FuzzLines(f *testing.F) {
	f.Add("repeat\n\n  GO-ON \nfly away\r\nstatus")
	f.Fuzz(func(t *testing.T, text string) {
		told := 0
		err := Lines(strings.NewReader(text), func(c command.Command) {
			if _, ok := command.Parse(string(c)); !ok {
				t.Errorf("tells %q", c)
			}
			told++
		}, func(line string) {
			if len(line) > longestLine*4 {
				t.Errorf("a line of %d bytes", len(line))
			}
			told++
		})
		if err != nil || told > strings.Count(text, "\n")+1 {
			t.Errorf("%d of %q, %v", told, text, err)
		}
	})
}

func FuzzReadKey(f *testing.F) {
	f.Add(tap(57))
	f.Add([]byte{1, 2, 3})
	f.Fuzz(func(t *testing.T, data []byte) {
		r := strings.NewReader(string(data))
		for range len(data)/eventSize + 1 {
			if _, _, err := readKey(r); err != nil {
				return
			}
		}
		t.Error("more keys than data")
	})
}
