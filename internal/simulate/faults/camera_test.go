package faults

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"halocue/internal/run"
	"halocue/internal/simulate/telescope"
	"halocue/vision"
	"halocue/vision/camera"
)

// netcam is a network camera that looks through the virtual telescope: MJPEG over
// HTTP. It can be made to stall, to send damaged pictures, and be unplugged.
type netcam struct {
	src              *telescope.Source
	address          string
	server           *httptest.Server
	stalled, damaged atomic.Bool
}

func (n *netcam) plug(t *testing.T) {
	t.Helper()
	l, err := net.Listen("tcp", n.address)
	if err != nil {
		t.Fatal(err)
	}
	n.address = l.Addr().String()
	n.server = &httptest.Server{Listener: l, Config: &http.Server{Handler: n}}
	n.server.Start()
}

func (n *netcam) unplug() {
	n.server.Listener.Close()
	n.server.CloseClientConnections()
	n.server.Close()
}

func (n *netcam) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=next")
	for r.Context().Err() == nil {
		f, err := n.src.Next(r.Context())
		if err != nil {
			return
		}
		if n.stalled.Load() {
			continue
		}
		p := jpegOf(f)
		if n.damaged.Load() {
			p = damage(p)
		}
		if _, err := fmt.Fprintf(w, "--next\r\nContent-Type: image/jpeg\r\nContent-Length: %d\r\n\r\n%s\r\n", len(p), p); err != nil {
			return
		}
		w.(http.Flusher).Flush()
	}
}

// lines is a transcript that is read while it is written.
type lines struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.Write(p)
}

func (l *lines) text() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.String()
}

// until waits until the code has been said n times, and returns how long it took.
func (l *lines) until(t *testing.T, code string, n int) time.Duration {
	t.Helper()
	begun := time.Now()
	for time.Since(begun) < 3*time.Minute {
		said := 0
		for _, e := range between(events(t, l.text()), 0, 1e6) {
			if e.Code == code {
				said++
			}
		}
		if said >= n {
			return time.Since(begun)
		}
		time.Sleep(50 * time.Millisecond)
	}
	for _, e := range between(events(t, l.text()), 0, 1e6) {
		t.Logf("%6.1f %s", e.T, e.Text)
	}
	t.Fatalf("%q was not said %d times", code, n)
	return 0
}

// A real stream over HTTP stalls, sends damaged pictures, is switched off and on
// again. Each is said, its end is said, and the guidance goes on.
func TestCameraFaults(t *testing.T) {
	t.Parallel()
	n := sky(5)
	n.Camera.Bits = 8
	var out lines
	p := parts(t, n, &out)
	p.Speech = mime{haste: 5} // what goes on by the clock need not wait for long words
	events := make(chan run.DeviceEvent, 64)
	p.Devices = events
	cam := &netcam{src: telescope.NewSource(n, telescope.SourceOptions{FPS: fps, Wall: true, Closed: io.EOF}), address: "127.0.0.1:0"}
	cam.plug(t)
	src, err := camera.Keep(t.Context(), "http://"+cam.address, camera.Options{}, camera.KeepOptions{
		Event: func(s vision.DeviceState, why error) {
			events <- run.DeviceEvent{Device: "camera", State: string(s), Code: "camera-lost", On: s != vision.DeviceBack}
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	p.Source, p.Hands = vision.Newest(src), cam.src.Hear
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() {
		_, err := run.Live(ctx, p)
		done <- err
	}()
	out.until(t, "other-side", 1) // guidance is under way

	cam.stalled.Store(true)
	t.Logf("stalled: said after %v", out.until(t, "camera-stalled", 1))
	cam.stalled.Store(false)
	out.until(t, "camera-back", 1)

	cam.damaged.Store(true)
	t.Logf("damaged: said after %v", out.until(t, "bad-frames", 1))
	cam.damaged.Store(false)

	time.Sleep(2 * time.Second)
	cam.unplug()
	t.Logf("unplugged: said after %v", out.until(t, "camera-lost", 1))
	cam.plug(t)
	t.Logf("plugged in: said after %v", out.until(t, "camera-back", 2))
	turns := strings.Count(out.text(), `"event":"decide"`)
	for end := time.Now().Add(3 * time.Minute); strings.Count(out.text(), `"event":"decide"`) == turns; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("the guidance did not go on")
		}
	}
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
	if err := p.Source.Close(); err != nil {
		t.Error(err)
	}
	cam.src.Close()
	cam.unplug()
}
