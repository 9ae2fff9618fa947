package buttons

import (
	"context"
	"io"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"halocue/audio/command"
)

// What is pressed at the service's devices is told to who follows, and nothing of what
// is typed; it lives on when they go, and they when it goes.
func TestFollow(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "event3"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	socket := filepath.Join(dir, "socket")
	l, err := net.Listen("unix", socket)
	if err != nil {
		t.Fatal(err)
	}
	pipes := make(chan *io.PipeWriter, 8)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	served := make(chan struct{})
	go func() {
		defer close(served)
		Serve(ctx, l, Config{Folder: dir, Open: func(string) (io.ReadCloser, error) {
			r, w := io.Pipe()
			pipes <- w
			return r, nil
		}})
	}()
	keyboard := <-pipes
	deaf, err := net.Dial("unix", socket) // it never reads
	if err != nil {
		t.Fatal(err)
	}
	defer deaf.Close()
	early, leave := context.WithCancel(t.Context())
	left := make(chan error)
	go func() { left <- Follow(early, socket, func(command.Command) {}, func(Event) {}) }()
	leave()
	select {
	case <-left:
	case <-time.After(5 * time.Second):
		t.Fatal("it does not end with its context")
	}
	var f ledger
	followed := make(chan error)
	go func() { followed <- Follow(t.Context(), socket, f.tell, f.event) }()
	f.until(t, "the device is told to a newcomer", func() bool { return f.come == 1 })
	const a, volumeUp, n = 30, 115, 49
	for _, code := range []uint16{volumeUp, n} {
		if _, err := keyboard.Write(tap(code)); err != nil {
			t.Fatal(err)
		}
	}
	f.until(t, "louder and next", func() bool { return len(f.said) == 2 && f.said[0] == command.Louder && f.said[1] == command.Next })
	keyboard.Close()
	f.until(t, "it has gone, used", func() bool { return f.gone == 1 && f.used == 1 })
	stop()
	for what, end := range map[string]func(){"the follower": func() { <-followed }, "the service": func() { <-served }} {
		done := make(chan struct{})
		go func() { end(); close(done) }()
		select {
		case <-done:
		case <-time.After(5 * time.Second):
			t.Fatalf("%s does not end", what)
		}
	}
	if err := Follow(t.Context(), socket, f.tell, f.event); err == nil {
		t.Error("there is no service, and no error")
	}
}

// Whatever comes over the socket is a command that there is, or nothing.
func TestFollowNonsense(t *testing.T) {
	socket := filepath.Join(t.TempDir(), "socket")
	l, err := net.Listen("unix", socket)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		conn, err := l.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		io.WriteString(conn, "pressed nonsense\nnonsense\n\npressed wait\npressed ") //nolint:errcheck // the follower may hang up
		io.Copy(conn, zeros{})                                                       //nolint:errcheck // so it does
	}()
	var f ledger
	if err := Follow(t.Context(), socket, f.tell, f.event); err != nil || len(f.said) != 1 || f.said[0] != command.Wait {
		t.Errorf("%v, %v", f.said, err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }
