package camera

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"halocue/vision"
)

// A camera is pulled and comes back under another number, beside another one.
func TestFindsTheCameraAgain(t *testing.T) {
	plugged := map[string]string{"/dev/video0": "Guide Cam", "/dev/video2": "Laptop Cam"}
	f := &finder{spec: "0",
		name: func(path string) (string, error) {
			if n, ok := plugged[path]; ok {
				return n, nil
			}
			return "", os.ErrNotExist
		},
		nodes: func() []string { return []string{"/dev/video0", "/dev/video1", "/dev/video2", "/dev/video3"} },
	}
	for _, step := range []struct {
		plugged map[string]string
		want    string
	}{
		{plugged, "/dev/video0"},
		{map[string]string{"/dev/video2": "Laptop Cam"}, "/dev/video0"}, // gone: the error names its place
		{map[string]string{"/dev/video2": "Laptop Cam", "/dev/video3": "Guide Cam"}, "/dev/video3"},
		{map[string]string{"/dev/video0": "Laptop Cam", "/dev/video3": "Guide Cam"}, "/dev/video3"},
		{map[string]string{"/dev/video0": "Guide Cam"}, "/dev/video0"},
	} {
		plugged = step.plugged
		if got := f.find(); got != step.want {
			t.Errorf("%v: %s, want %s", plugged, got, step.want)
		}
	}
	other := &finder{spec: "http://camera/", name: f.name}
	if got := other.find(); got != "http://camera/" {
		t.Errorf("a network camera became %s", got)
	}
}

// A network camera is switched off and on.
func TestKeepsANetworkCamera(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	start := func(l net.Listener) *httptest.Server {
		s := &httptest.Server{Listener: l, Config: &http.Server{Handler: multipart(2)}}
		s.Start()
		return s
	}
	server := start(l)
	var events []string
	s, err := Keep(t.Context(), "http://"+address, Options{}, KeepOptions{Event: func(state vision.DeviceState, why error) {
		events = append(events, string(state))
		if state == vision.DeviceLost {
			l, err := net.Listen("tcp", address)
			if err != nil {
				t.Error(err)
				return
			}
			server = start(l)
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	brightness(t, s)
	brightness(t, s)
	server.CloseClientConnections()
	server.Listener.Close()
	f, err := s.Next(t.Context())
	if err != nil || f.Seq != 2 || fmt.Sprint(events) != "[lost back]" {
		t.Errorf("after the gap: %v, told %v", err, events)
	}
	s.Close()
	server.CloseClientConnections()
	server.Close()
}

func TestKeepAtFirst(t *testing.T) {
	if _, err := Keep(t.Context(), "97", Options{}, KeepOptions{}); err == nil || !strings.Contains(err.Error(), "no /dev/video97") {
		t.Errorf("a missing camera: %v", err)
	}
	told := make(chan error, 1)
	s, err := Keep(t.Context(), "97", Options{}, KeepOptions{Wait: true, Event: func(state vision.DeviceState, why error) {
		if state == vision.DeviceMissing {
			told <- why
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		if err := <-told; !strings.Contains(err.Error(), "plug it in") {
			t.Errorf("told %v", err)
		}
		s.Close()
	}()
	if _, err := s.Next(t.Context()); !errors.Is(err, vision.ErrClosed) {
		t.Errorf("closed while it waits: %v", err)
	}
	files, err := Keep(t.Context(), folderOf(t, 1), Options{}, KeepOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	if _, reopens := files.(*vision.Reopener); reopens {
		t.Error("a folder is opened again")
	}
}
