package voice

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// ssip is a connection that speaks the Speech Synthesis Interface Protocol of
// speech-dispatcher (its manual, "SSIP", version 0.11): lines that end in CR LF,
// each answered by lines of which the last has a space after its number.
type ssip struct {
	conn    net.Conn
	replies chan reply // answers to commands; closed when the connection ends
	events  func(code, message string)
}

type reply struct {
	code  string
	lines []string // what the lines before the last said
}

// ssipPatience is how long an answer may take.
const ssipPatience = time.Second

// dialSSIP connects; events gets the notifications (701 begin, 702 end, 703
// cancelled, ...) with the message's number, from the connection's own goroutine.
func dialSSIP(network, address string, events func(code, message string)) (*ssip, error) {
	conn, err := net.DialTimeout(network, address, ssipPatience)
	if err != nil {
		return nil, err
	}
	s := &ssip{conn: conn, replies: make(chan reply, 4), events: events}
	go s.read()
	return s, nil
}

// read takes lines apart until the connection ends.
func (s *ssip) read() {
	defer close(s.replies)
	lines := bufio.NewScanner(s.conn)
	var before []string
	for lines.Scan() {
		line := lines.Text()
		if len(line) < 4 {
			return // not this protocol: the next command says so
		}
		code, rest := line[:3], line[4:]
		if line[3] == '-' {
			if len(before) < 64 {
				before = append(before, rest)
			}
			continue
		}
		switch {
		case code[0] != '7':
			select {
			case s.replies <- reply{code, before}:
			default: // an answer that nobody asked for
			}
		case len(before) > 0:
			s.events(code, before[0])
		}
		before = nil
	}
}

var errGone = errors.New("speech-dispatcher does not answer")

// send sends a line and waits for its answer, which must begin with 2.
func (s *ssip) send(line string) (reply, error) {
	for len(s.replies) > 0 { // what came too late for the one before
		if _, ok := <-s.replies; !ok {
			return reply{}, errGone
		}
	}
	if err := s.conn.SetWriteDeadline(time.Now().Add(ssipPatience)); err != nil {
		return reply{}, err
	}
	if _, err := s.conn.Write([]byte(line + "\r\n")); err != nil {
		return reply{}, err
	}
	select {
	case r, ok := <-s.replies:
		if !ok {
			return reply{}, errGone
		}
		if r.code[0] != '2' {
			return r, fmt.Errorf("speech-dispatcher answered %s to %q", r.code, strings.SplitN(line, "\r", 2)[0])
		}
		return r, nil
	case <-time.After(ssipPatience):
		return reply{}, errGone
	}
}

// speak has a text spoken and returns the number of its message.
func (s *ssip) speak(text string) (message string, err error) {
	if _, err := s.send("SPEAK"); err != nil {
		return "", err
	}
	text = strings.Join(strings.Fields(text), " ") // one line, whatever it was
	if strings.HasPrefix(text, ".") {
		text = "." + text
	}
	r, err := s.send(text + "\r\n.")
	if err != nil {
		return "", err
	}
	if len(r.lines) == 0 {
		return "", errors.New("speech-dispatcher did not number the message")
	}
	return r.lines[0], nil
}

// ssipAddress is where speech-dispatcher listens: what the variable
// SPEECHD_ADDRESS says ("unix_socket:/path", "inet_socket:host:port"), or its
// usual socket.
func ssipAddress() (network, address string) {
	kind, where, _ := strings.Cut(os.Getenv("SPEECHD_ADDRESS"), ":")
	switch {
	case kind == "inet_socket" && where != "":
		return "tcp", where
	case kind == "unix_socket" && where != "":
		return "unix", where
	}
	dir := cmp.Or(os.Getenv("XDG_RUNTIME_DIR"), filepath.Join("/run/user", fmt.Sprint(os.Getuid())))
	return "unix", filepath.Join(dir, "speech-dispatcher", "speechd.sock")
}
