package voice

import (
	"bufio"
	"context"
	"errors"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// server plays the other side of SSIP: answer gets each line and says what to
// send back, "" for nothing.
func server(t *testing.T, answer func(line string) string) (address string) {
	t.Helper()
	address = filepath.Join(t.TempDir(), "s")
	l, err := net.Listen("unix", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		conn, err := l.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		for lines := bufio.NewScanner(conn); lines.Scan(); {
			if _, err := conn.Write([]byte(answer(strings.TrimSpace(lines.Text())))); err != nil {
				return
			}
		}
	}()
	return address
}

// obliging answers as the manual of SSIP shows it, with events in between.
func obliging(line string) string {
	switch line {
	case "SPEAK":
		return "230 OK RECEIVING DATA\r\n"
	case ".":
		return "701-7\r\n701-1\r\n701 BEGIN\r\n225-7\r\n225 OK MESSAGE QUEUED\r\n"
	case "STOP self":
		return "703-7\r\n703-1\r\n703 CANCELED\r\n210 OK STOPPED\r\n"
	}
	if strings.HasPrefix(line, "SET self") {
		return "201 OK SET\r\n"
	}
	return ""
}

func dial(address string, now func() time.Time) (*Dispatcher, error) {
	return dialDispatcher(context.Background(), DispatcherConfig{Network: "unix", Address: address, Language: "de", WPM: 160, Now: now})
}

// A notification that overtakes the answer, and one of an older message, change
// nothing; the end that never comes is given up.
func TestDispatcherEvents(t *testing.T) {
	clock := time.Unix(0, 0)
	d, err := dial(server(t, obliging), func() time.Time { return clock })
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if err := d.Say(cue); err != nil || !d.Speaking() {
		t.Fatalf("%v, speaking %v", err, d.Speaking())
	}
	d.event(ssipEnd, "6")
	if !d.Speaking() {
		t.Error("the end of an older message was taken for that of this one")
	}
	clock = clock.Add(1700 * time.Millisecond)
	d.event(ssipEnd, "7")
	if d.Speaking() {
		t.Error("the end was not noticed")
	}
	if pcm, err := d.Speak(context.Background(), cue); err != nil || len(pcm.Samples) != pcm.Rate*17/10 {
		t.Errorf("%d samples, %v: want the 1.7 s that the words took", len(pcm.Samples), err)
	}
	if err := d.Say(cue); err != nil {
		t.Fatal(err)
	}
	clock = clock.Add(5 * time.Second)
	if d.Speaking() {
		t.Error("words of 1.7 s are still being said after 5")
	}
}

// The desktop's own speed is kept at 160 words a minute, and changed in proportion
// at others: by a tenth of the scale or so for each 10 %.
func TestDispatcherSpeed(t *testing.T) {
	for wpm, want := range map[float64]string{160: "", 184: "SET self RATE -6", 80: "SET self RATE -89", 450: "SET self RATE 83", 1000: "SET self RATE 100"} {
		got := make(chan string, 1)
		got <- ""
		address := server(t, func(line string) string {
			if line == "GET RATE" {
				return "251--20\r\n251 OK GET RETURNED\r\n"
			}
			if strings.HasPrefix(line, "SET self RATE") {
				<-got
				got <- line
			}
			return obliging(line)
		})
		d, err := dialDispatcher(context.Background(), DispatcherConfig{Network: "unix", Address: address, Language: "en", WPM: wpm})
		if err != nil {
			t.Fatal(err)
		}
		if line := <-got; line != want {
			t.Errorf("%g words a minute: %q, want %q", wpm, line, want)
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	}
}

// Servers that refuse, are silent, hang up, or are something else.
func TestDispatcherTrouble(t *testing.T) {
	for name, answer := range map[string]func(string) string{
		"refuses":    func(string) string { return "500 ERR INVALID COMMAND\r\n" },
		"is silent":  func(string) string { return "" },
		"is another": func(string) string { return "220\r\n" },
	} {
		if _, err := dial(server(t, answer), nil); err == nil || !strings.Contains(err.Error(), "choose espeak-ng") {
			t.Errorf("%s: %v; want the remedy", name, err)
		}
	}
	if _, err := dial(filepath.Join(t.TempDir(), "nobody"), nil); err == nil || !strings.Contains(err.Error(), "apt install") {
		t.Errorf("nobody there: %v", err)
	}
	d, err := dial(server(t, func(line string) string {
		if line == "SPEAK" {
			return "230 OK\r\nbye\r\n"
		}
		return obliging(line)
	}), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if err := d.Say(cue); !errors.Is(err, errGone) && err == nil {
		t.Errorf("hung up in the middle: %v", err)
	}
	if d.Speaking() {
		t.Error("speaking, though it failed")
	}
}

func TestSSIPAddress(t *testing.T) {
	for variable, want := range map[string]string{
		"unix_socket:/run/x.sock":    "unix /run/x.sock",
		"inet_socket:127.0.0.1:6560": "tcp 127.0.0.1:6560",
		"":                           "unix /run/me/speech-dispatcher/speechd.sock",
	} {
		t.Setenv("SPEECHD_ADDRESS", variable)
		t.Setenv("XDG_RUNTIME_DIR", "/run/me")
		if network, address := ssipAddress(); network+" "+address != want {
			t.Errorf("%q: %s %s, want %s", variable, network, address, want)
		}
	}
}

// Whatever a server sends, the connection comes to its end, and nothing is taken for
// an answer that has no number.
func FuzzSSIP(f *testing.F) {
	f.Add("225-1\r\n225 OK\r\n701-1\r\n701-c\r\n701 BEGIN\r\n")
	f.Add("2")
	f.Add("700-\n700 \n    \n")
	f.Fuzz(func(t *testing.T, text string) {
		ours, theirs := net.Pipe()
		s := &ssip{conn: ours, replies: make(chan reply, 4), events: func(code, _ string) {
			if len(code) != 3 {
				t.Errorf("event %q", code)
			}
		}}
		go func() {
			defer theirs.Close()
			_, _ = theirs.Write([]byte(text)) // the other side may have had enough
		}()
		s.read()
		ours.Close()
		for r := range s.replies {
			if len(r.code) != 3 || len(r.lines) > 64 {
				t.Errorf("reply %+v", r)
			}
		}
	})
}
