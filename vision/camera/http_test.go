package camera

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"
)

// hostileHTTP are network cameras, by what each does with a request. Good is a sound
// JPEG picture.
var hostileHTTP = map[string]func(w io.Writer, good []byte) error{
	"an answer without end": func(w io.Writer, _ []byte) error { return again(w, "HTTP/1.1 200 OK\r\nX: ", junk) },
	"nothing":               func(w io.Writer, _ []byte) error { time.Sleep(time.Hour); return nil },
	"a slow answer":         func(w io.Writer, _ []byte) error { return slowly(w, []byte(header)) },
	"slow pictures":         func(w io.Writer, good []byte) error { return slowly(w, append([]byte(header), good...)) },
	"a way to a file": func(w io.Writer, _ []byte) error {
		return say(w, "HTTP/1.1 302 Found\r\nLocation: file:///etc/passwd\r\nContent-Length: 0\r\n\r\n")
	},
	"a way in a circle": func(w io.Writer, _ []byte) error {
		return say(w, "HTTP/1.1 302 Found\r\nLocation: /again\r\nContent-Length: 0\r\n\r\n")
	},
	"a refusal that steers": func(w io.Writer, _ []byte) error {
		return say(w, "HTTP/1.1 404 \x1b[31m\u009b31m\u202e\r\nContent-Length: 0\r\n\r\n")
	},
	"headers without end": func(w io.Writer, _ []byte) error { return again(w, header+"--x\r\nX: ", junk) },
	"long headers between": func(w io.Writer, good []byte) error {
		return again(w, header, "--x\r\nX: "+string(bytes.Repeat([]byte("A"), 8<<20))+"\r\n\r\n"+string(good))
	},
	"short pictures": func(w io.Writer, good []byte) error {
		return say(w, "HTTP/1.1 200 OK\r\nContent-Length: 5000\r\n\r\n"+string(good[:len(good)/2]))
	},
	"half a picture and an end": func(w io.Writer, good []byte) error { return say(w, header+string(good)+string(good[:len(good)/2])) },
	"a scan without end": func(w io.Writer, good []byte) error {
		return again(w, header+string(good[:len(good)-100]), string(bytes.Repeat([]byte{1}, 1<<16)))
	},
	"zeros packed":                packed,
	"junk":                        func(w io.Writer, _ []byte) error { return again(w, header, junk) },
	"junk after good pictures":    func(w io.Writer, good []byte) error { return again(w, header+string(bytes.Repeat(good, 5)), junk) },
	"a picture that is too large": func(w io.Writer, good []byte) error { return again(w, header, string(sized(good, 60000, 60000))) },
	"150 scans":                   func(w io.Writer, good []byte) error { return again(w, header, string(scans(good, 150))) },
}

const header = "HTTP/1.1 200 OK\r\nContent-Type: multipart/x-mixed-replace; boundary=x\r\n\r\n"

var junk = string(bytes.Repeat([]byte("A"), 1<<16))

func say(w io.Writer, text string) error { _, err := io.WriteString(w, text); return err }

func again(w io.Writer, start, more string) error {
	err := say(w, start)
	for err == nil {
		err = say(w, more)
	}
	return err
}

func slowly(w io.Writer, b []byte) error {
	for _, c := range b {
		if _, err := w.Write([]byte{c}); err != nil {
			return err
		}
		time.Sleep(100 * time.Millisecond)
	}
	return nil
}

func packed(w io.Writer, _ []byte) error {
	err := say(w, "HTTP/1.1 200 OK\r\nContent-Encoding: gzip\r\n\r\n")
	z := gzip.NewWriter(w)
	for err == nil {
		_, err = z.Write(make([]byte, 1<<20))
	}
	return err
}

// sized is a baseline JPEG whose header says another size (ITU-T T.81, B.2.2).
func sized(good []byte, width, height int) []byte {
	b := bytes.Clone(good)
	if i := bytes.Index(b, []byte{0xff, 0xc0}); i > 0 {
		b[i+5], b[i+6], b[i+7], b[i+8] = byte(height>>8), byte(height), byte(width>>8), byte(width)
	}
	return b
}

// scans is a JPEG with its scan n times.
func scans(good []byte, n int) []byte {
	i := bytes.Index(good, []byte{0xff, 0xda})
	b := append(bytes.Clone(good[:i]), bytes.Repeat(good[i:len(good)-2], n)...)
	return append(b, 0xff, 0xd9)
}

// hostileCamera runs one of hostileHTTP on the loopback until the test ends, and returns
// its address and how often it was asked.
func hostileCamera(t testing.TB, name string, good []byte) (address string, asked func() int) {
	t.Helper()
	serve, ok := hostileHTTP[name]
	if !ok {
		t.Fatalf("there is no hostile camera %q", name)
	}
	times := make(chan int, 1)
	times <- 0
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		times <- 1 + <-times
		conn, buffer, err := http.NewResponseController(w).Hijack()
		if err != nil {
			panic(fmt.Sprint("taking over a connection: ", err)) // of HTTP/1.1 it can be
		}
		defer conn.Close()
		buffer.Flush() //nolint:errcheck // the client may hang up at any time
		done := make(chan struct{})
		go func() {
			defer close(done)
			serve(conn, good) //nolint:errcheck // as above
		}()
		select {
		case <-done:
		case <-t.Context().Done():
		}
	}))
	t.Cleanup(server.Close)
	return server.URL, func() int { n := <-times; times <- n; return n }
}
