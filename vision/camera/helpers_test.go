package camera

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"halocue/vision"
	_ "halocue/vision/camera/opencv"
)

// grey is an even picture of brightness 10 n, so that a frame's number can be read from it.
func grey(n, w, h int) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = byte(10 * n)
	}
	return img
}

func jpegOf(n int) []byte {
	var b bytes.Buffer
	jpeg.Encode(&b, grey(n, 64, 48), nil)
	return b.Bytes()
}

func mjpegOf(n int) []byte {
	var b bytes.Buffer
	for i := range n {
		b.Write(jpegOf(i))
	}
	return b.Bytes()
}

func folderOf(t *testing.T, n int) string {
	dir := t.TempDir()
	for i := range n {
		// No leading zeros: frame-10 must come after frame-9.
		file, err := os.Create(filepath.Join(dir, fmt.Sprintf("frame-%d.png", i)))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(png.Encode(file, grey(i, 64, 48)), file.Close()); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func write(t *testing.T, name string, data []byte) string {
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// run runs a real outside program and returns what it writes.
func run(t testing.TB, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(name, args...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, errs.String())
	}
	return out
}

// videos are those that ffmpeg has made before.
var videos = map[string][]byte{}

// video is 8 frames in a file made by ffmpeg from our MJPEG.
func video(t *testing.T, name string, codec ...string) string {
	key := name + strings.Join(codec, " ")
	if videos[key] == nil {
		path := filepath.Join(t.TempDir(), name)
		args := []string{"-nostdin", "-loglevel", "error", "-f", "mjpeg", "-framerate", "200", "-i", write(t, "x.mjpeg", mjpegOf(8))}
		run(t, "ffmpeg", append(append(args, codec...), path)...)
		made, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		videos[key] = made
	}
	return write(t, name, videos[key])
}

func open(t *testing.T, spec string, o Options) vision.Source {
	t.Helper()
	s, err := Open(t.Context(), spec, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// pipe is standard input, with a writer for the test.
func pipe(t *testing.T) (r, w *os.File) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close(); w.Close() })
	return r, w
}

// blockingPipe is a pipe as a shell hands it on: reads block in the kernel.
func blockingPipe(t *testing.T) (r, w *os.File) {
	var fds [2]int
	if err := syscall.Pipe(fds[:]); err != nil {
		t.Fatal(err)
	}
	r, w = os.NewFile(uintptr(fds[0]), "read"), os.NewFile(uintptr(fds[1]), "write")
	t.Cleanup(func() { r.Close(); w.Close() })
	return r, w
}

func serve(t *testing.T, h http.HandlerFunc) string {
	server := httptest.NewServer(h)
	t.Cleanup(func() { server.CloseClientConnections(); server.Close() })
	return server.URL
}

// multipart sends pictures as network cameras do (RFC 2046 parts).
func multipart(n int) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=next")
		for i := range n {
			p := jpegOf(i)
			fmt.Fprintf(w, "--next\r\nContent-Type: image/jpeg\r\nContent-Length: %d\r\n\r\n%s\r\n", len(p), p)
			w.(http.Flusher).Flush()
		}
		<-r.Context().Done()
	}
}

func silent(w http.ResponseWriter, r *http.Request) {
	w.(http.Flusher).Flush()
	<-r.Context().Done()
}
