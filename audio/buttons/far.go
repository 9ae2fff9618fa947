package buttons

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"sync"
	"time"

	"halocue/audio/command"
)

// Socket is where the installed service of the buttons tells what is pressed, so that
// the program that reads the network cannot read the keyboards.
const Socket = "/run/halocue-buttons/socket"

// The words that begin a line over the socket. What follows came and gone is the
// device's path; used says that it was.
const (
	pressed = "pressed "
	came    = "came "
	gone    = "gone "
	used    = "gone-used "
)

// Serve watches the devices as c says and tells all who connect, until ctx ends. What
// they say is not read. One who does not listen is hung up on.
func Serve(ctx context.Context, l net.Listener, c Config) {
	var mu sync.Mutex
	there := map[net.Conn]bool{}
	var devices []string // lines that a newcomer is told too
	say := func(line string) {
		mu.Lock()
		defer mu.Unlock()
		switch path, ok := strings.CutPrefix(line, came); {
		case ok:
			devices = append(devices, path)
		case strings.HasPrefix(line, gone), strings.HasPrefix(line, used):
			_, path, _ := strings.Cut(line, " ")
			devices = slices.DeleteFunc(devices, func(d string) bool { return d == path })
		}
		for conn := range there {
			if !tellOne(conn, line) {
				delete(there, conn)
			}
		}
	}
	stop := context.AfterFunc(ctx, func() { l.Close() })
	defer stop()
	var accepting sync.WaitGroup
	accepting.Add(1)
	go func() {
		defer accepting.Done()
		for {
			conn, err := l.Accept()
			if err != nil {
				return // closed
			}
			mu.Lock()
			if len(there) < 16 {
				there[conn] = true
				for _, d := range devices {
					tellOne(conn, came+d)
				}
			} else {
				conn.Close()
			}
			mu.Unlock()
		}
	}()
	c.Events = func(e Event) {
		switch {
		case e.Err == nil:
			say(came + e.Path)
		case e.Used:
			say(used + e.Path)
		default:
			say(gone + e.Path)
		}
	}
	Watch(ctx, c, func(c command.Command) { say(pressed + string(c)) })
	accepting.Wait()
	mu.Lock()
	defer mu.Unlock()
	for conn := range there {
		conn.Close()
	}
}

func tellOne(conn net.Conn, line string) bool {
	err := conn.SetWriteDeadline(time.Now().Add(100 * time.Millisecond))
	if err == nil {
		_, err = io.WriteString(conn, line+"\n")
	}
	if err != nil {
		conn.Close()
	}
	return err == nil
}

var errFar = errors.New("it was taken out")

// Follow reports what the service at the socket tells, and returns when the connection
// or the context ends. It is an error where there is no service.
func Follow(ctx context.Context, socket string, tell func(command.Command), events func(Event)) error {
	conn, err := (&net.Dialer{}).DialContext(ctx, "unix", socket)
	if err != nil {
		return fmt.Errorf("asking for the buttons: %w", err)
	}
	defer conn.Close()
	stop := context.AfterFunc(ctx, func() { conn.Close() })
	defer stop()
	for lines := bufio.NewReaderSize(conn, longestLine); ; {
		text, tooLong, err := lines.ReadLine()
		if err != nil || tooLong {
			return nil
		}
		word, what, _ := strings.Cut(string(text), " ")
		switch word + " " {
		case pressed:
			if c, ok := command.Parse(what); ok {
				tell(c)
			}
		case came:
			events(Event{Path: what})
		case gone, used:
			events(Event{Path: what, Err: errFar, Used: word+" " == used})
		}
	}
}
