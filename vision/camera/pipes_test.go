package camera

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halocue/vision"
)

// ffmpeg pipes MJPEG into us as it does for a person.
func TestFFmpegThroughThePipe(t *testing.T) {
	cmd := exec.Command("ffmpeg", "-nostdin", "-loglevel", "error", "-f", "lavfi", "-i", "testsrc=size=320x240:rate=25",
		"-frames:v", "40", "-f", "mjpeg", "-")
	r, w := blockingPipe(t)
	cmd.Stdout = w
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	w.Close()
	defer cmd.Wait()
	s := open(t, "-", Options{Frames: true, Stdin: r})
	defer s.Close()
	n := 0
	for ; ; n++ {
		f, err := s.Next(t.Context())
		if err == io.EOF {
			break
		}
		if err != nil || f.Width != 320 || f.Height != 240 {
			t.Fatalf("frame %d: %v", n, err)
		}
	}
	if n != 40 {
		t.Errorf("%d frames, want 40", n)
	}
}

// A program feeds one frame and waits for what is said before it feeds the next.
func TestLockstep(t *testing.T) {
	r, w := blockingPipe(t)
	s := open(t, "-", Options{Frames: true, Stdin: r})
	defer s.Close()
	for i := range 10 {
		if _, err := w.Write(jpegOf(i)); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		f, err := s.Next(ctx)
		cancel()
		if err != nil || f.Seq != uint64(i) {
			t.Fatalf("frame %d: %v", i, err)
		}
	}
}

// A damaged picture is reported and counted, and the stream goes on.
func TestBadFramesAreCounted(t *testing.T) {
	p := jpegOf(1)
	short := append(bytes.Clone(p[:len(p)-12]), p[len(p)-2:]...)
	stream := bytes.Join([][]byte{p, p[:len(p)/2], p, short, p}, nil)
	s := open(t, "-", Options{Frames: true, FPS: 10, Stdin: bytes.NewReader(stream)})
	defer s.Close()
	var seqs []uint64
	badFrames := 0
	for {
		f, err := s.Next(t.Context())
		if err == io.EOF {
			break
		}
		if errors.Is(err, vision.ErrBadFrame) {
			badFrames++
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		seqs = append(seqs, f.Seq)
	}
	if badFrames != 2 || fmt.Sprint(seqs) != "[0 2 4]" {
		t.Errorf("%d bad frames, numbers %v; want 2 and [0 2 4]", badFrames, seqs)
	}
}

func TestDamagedFileInFolder(t *testing.T) {
	dir := folderOf(t, 3)
	if err := os.WriteFile(filepath.Join(dir, "frame-1.png"), []byte("no picture"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := open(t, dir, Options{Frames: true})
	defer s.Close()
	brightness(t, s)
	if _, err := s.Next(t.Context()); !errors.Is(err, vision.ErrBadFrame) || !strings.Contains(err.Error(), "frame-1.png") {
		t.Errorf("the damaged one: %v", err)
	}
	if got := brightness(t, s); got != 20 {
		t.Errorf("the one after it has brightness %g", got)
	}
}

// A source that is lost answers ErrLost, and not an orderly end.
func TestLost(t *testing.T) {
	for name, spec := range map[string]string{
		"server gone": serve(t, func(w http.ResponseWriter, r *http.Request) {
			w.Write(jpegOf(1))
			w.(http.Flusher).Flush()
			panic(http.ErrAbortHandler)
		}),
		"server ends":    serve(t, func(w http.ResponseWriter, r *http.Request) { w.Write(jpegOf(1)) }),
		"server stalls":  serve(t, multipart(1)),
		"pipeline fails": "videotestsrc ! video/x-raw,width=64,height=48 ! identity error-after=3",
	} {
		s := open(t, spec, Options{Patience: 2 * time.Second, Frames: strings.Contains(spec, " ! ")})
		brightness(t, s)
		var err error
		for err == nil {
			_, err = s.Next(t.Context())
		}
		if !errors.Is(err, vision.ErrLost) || !strings.Contains(err.Error(), "; ") {
			t.Errorf("%s: %v, want ErrLost and a next step", name, err)
		}
		if _, again := s.Next(t.Context()); again != err {
			t.Errorf("%s: then %v", name, again)
		}
		s.Close()
	}
}

func TestNeverDelivers(t *testing.T) {
	r, _ := blockingPipe(t)
	s := open(t, "-", Options{Patience: 50 * time.Millisecond, Stdin: r})
	defer s.Close()
	if _, err := s.Next(t.Context()); !errors.Is(err, vision.ErrLost) || !strings.Contains(err.Error(), "no picture for 50ms; check that the camera tool runs") {
		t.Errorf("got %v", err)
	}
}
