package camera

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"halocue/vision"
	"halocue/vision/frame"
)

// Junk after good pictures is a lost camera, which is looked for again; junk alone is
// the wrong address. Neither speaks of standard input.
func TestJunkOverHTTP(t *testing.T) {
	junk := bytes.Repeat([]byte{1}, 17<<20)
	for name, c := range map[string]struct {
		good int
		lost bool
	}{"after good ones": {3, true}, "alone": {0, false}} {
		address := serve(t, func(w http.ResponseWriter, r *http.Request) {
			if c.good > 0 {
				w.Write(mjpegOf(c.good))
			}
			w.Write(junk)
			<-r.Context().Done()
		})
		s := open(t, address, Options{})
		for range c.good {
			if _, err := s.Next(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		_, err := s.Next(t.Context())
		if err == nil || errors.Is(err, vision.ErrLost) != c.lost || strings.Contains(err.Error(), "standard") || !strings.Contains(err.Error(), "; ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A server that takes the connection and says nothing is not waited for beyond patience.
func TestSilentTLS(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, err = Open(t.Context(), "https://"+l.Addr().String(), Options{Patience: 50 * time.Millisecond})
	if !errors.Is(err, context.DeadlineExceeded) || !strings.Contains(err.Error(), "; check the address") {
		t.Errorf("%v", err)
	}
}

// onlyBad sends bad frames.
type onlyBad struct{ reads int }

func (o *onlyBad) read(f *frame.Frame) error { o.reads++; return bad(io.ErrUnexpectedEOF) }
func (o *onlyBad) interrupt()                {}
func (o *onlyBad) release()                  {}

// Bad frames without an end are asked for ever more seldom, and closing does not wait.
func TestBadFramesWithoutEnd(t *testing.T) {
	r := &onlyBad{}
	o, err := Options{}.withDefaults()
	if err != nil {
		t.Fatal(err)
	}
	s := newSource(r, traits{name: "it", live: true}, o)
	n := 0
	for start := time.Now(); time.Since(start) < 1500*time.Millisecond; n++ {
		if _, err := s.Next(t.Context()); !errors.Is(err, vision.ErrBadFrame) {
			t.Fatal(err)
		}
	}
	if n > 12 {
		t.Errorf("%d bad frames in 1.5 s", n)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if _, err := s.Next(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("the next one came at once: %v", err)
	}
	start := time.Now()
	if err := s.Close(); err != nil || time.Since(start) > 800*time.Millisecond {
		t.Errorf("closing took %v: %v", time.Since(start), err)
	}
}

// What is no file is no picture of a folder.
func TestNamedPipeInAFolder(t *testing.T) {
	dir := folderOf(t, 2)
	if err := syscall.Mkfifo(filepath.Join(dir, "0.png"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(dir, "0.png"), filepath.Join(dir, "00.png")); err != nil {
		t.Fatal(err)
	}
	s := open(t, dir, Options{Frames: true})
	good, broken := 0, 0
	for {
		_, err := s.Next(t.Context())
		if err == io.EOF {
			break
		}
		if errors.Is(err, vision.ErrBadFrame) {
			broken++
		} else if err == nil {
			good++
		}
	}
	if good != 2 || broken != 1 { // the link
		t.Errorf("%d good frames and %d bad ones, want 2 and 1", good, broken)
	}
}

// What is in a video's stead, or breaks its decoder, costs that video and nothing else;
// and what names other files opens none.
func TestHostileVideos(t *testing.T)      { hostileVideos(t, 3) }
func TestProveHostileVideos(t *testing.T) { hostileVideos(t, 20) }

func hostileVideos(t *testing.T, damages int) {
	good, err := os.ReadFile(video(t, "a.mkv", "-c:v", "ffv1"))
	if err != nil {
		t.Fatal(err)
	}
	large := filepath.Join(t.TempDir(), "large.mkv")
	run(t, "ffmpeg", "-nostdin", "-loglevel", "error", "-f", "lavfi", "-i", "color=size=8192x8192", "-frames:v", "1", "-c:v", "mjpeg", large)
	secret := write(t, "secret.mkv", good)
	for name, path := range map[string]string{
		"too large":       large,
		"cut short":       write(t, "cut.mkv", good[:300]),
		"a list of files": write(t, "list.m3u8", []byte("#EXTM3U\n#EXTINF:1,\nfile://"+secret+"\n")),
		"a script":        write(t, "x.ffconcat", []byte("ffconcat version 1.0\nfile "+filepath.Base(secret)+"\n")),
		"\u202e\u009b":    write(t, "\u202e\u009b.mkv", []byte("no")),
	} {
		s, err := Open(t.Context(), path, Options{Frames: true})
		if err == nil {
			s.Close()
			t.Errorf("%s: it opens", name)
		} else if !strings.Contains(err.Error(), "; ") || strings.ContainsAny(err.Error(), "\u202e\u009b") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for i := 200; i < len(good); i += len(good) / damages { // damaged in the middle: an end, in time
		broken := bytes.Clone(good)
		for k := i; k < min(i+20, len(broken)); k++ {
			broken[k] ^= 0xff
		}
		s, err := Open(t.Context(), write(t, "broken.mkv", broken), Options{Frames: true})
		if err != nil {
			continue
		}
		for n := 0; err == nil || errors.Is(err, vision.ErrBadFrame); n++ {
			if _, err = s.Next(t.Context()); n > 100 {
				t.Fatal("it has no end")
			}
		}
		s.Close()
	}
}

// A pipeline that needs more memory than pictures may take ends, and its words are kept.
func TestPipelineIsBounded(t *testing.T) {
	_, err := Open(t.Context(), "videotestsrc ! video/x-raw,format=GRAY8,width=32000,height=32000", Options{Frames: true})
	if err == nil || !strings.Contains(err.Error(), "does not start") || !strings.Contains(err.Error(), "; try it with gst-launch-1.0") {
		t.Errorf("a gigabyte: %v", err)
	}
}

// The process that decodes a video has a system call filter, and ends with the source.
func TestVideoIsConfined(t *testing.T) {
	long := filepath.Join(t.TempDir(), "long.mkv") // longer than the pipe
	run(t, "ffmpeg", "-nostdin", "-loglevel", "error", "-f", "lavfi", "-i", "testsrc=size=640x480", "-frames:v", "10", "-c:v", "ffv1", long)
	s, err := openVideo(t.Context(), long, Options{Frames: true})
	if err != nil {
		t.Fatal(err)
	}
	pid := childOf(t, "halocue: decode video")
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil || !strings.Contains(string(status), "\nSeccomp:\t2\n") || !strings.Contains(string(status), "\nNoNewPrivs:\t1\n") {
		t.Errorf("%v\n%s", err, status)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if err := syscall.Kill(pid, 0); err != syscall.ESRCH {
		t.Errorf("after the source the process is there: %v", err)
	}
}

// childOf is the process of that name that this one has started.
func childOf(t *testing.T, name string) int {
	t.Helper()
	paths, err := filepath.Glob("/proc/[0-9]*")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range paths {
		called, _ := os.ReadFile(path + "/cmdline") // it may just have ended
		status, _ := os.ReadFile(path + "/status")
		if string(called) == name+"\x00" && strings.Contains(string(status), fmt.Sprintf("\nPPid:\t%d\n", os.Getpid())) {
			pid, err := strconv.Atoi(filepath.Base(path))
			if err != nil {
				t.Fatal(err)
			}
			return pid
		}
	}
	t.Fatalf("there is no %q", name)
	return 0
}
