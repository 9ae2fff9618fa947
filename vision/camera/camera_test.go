package camera

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"halocue/vision"
	"halocue/vision/visiontest"
)

// grey is an even picture of brightness 10 n, so that a frame tells its number.
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
func run(t *testing.T, name string, args ...string) []byte {
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

// video is 8 frames in a file made by ffmpeg from our MJPEG.
func video(t *testing.T, name string, codec ...string) string {
	path := filepath.Join(t.TempDir(), name)
	args := []string{"-nostdin", "-loglevel", "error", "-f", "mjpeg", "-framerate", "200", "-i", write(t, "x.mjpeg", mjpegOf(8))}
	run(t, "ffmpeg", append(append(args, codec...), path)...)
	return path
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

func TestEverySourceKeepsTheContract(t *testing.T) {
	for _, clock := range []Options{{Frames: true, FPS: 25}, {FPS: 500}} {
		name, fps := "wall clock", 0.0
		if clock.Frames {
			name, fps = "frame clock", clock.FPS
		}
		from := func(spec func(t *testing.T) string) func(t *testing.T) vision.Source {
			return func(t *testing.T) vision.Source { return open(t, spec(t), clock) }
		}
		stdin := func(pipe func(t *testing.T) (r, w *os.File), n int) func(t *testing.T) vision.Source {
			return func(t *testing.T) vision.Source {
				o := clock
				r, w := pipe(t)
				o.Stdin = r
				if n > 0 {
					go func() { w.Write(mjpegOf(n)); w.Close() }()
				}
				return open(t, "-", o)
			}
		}
		fifo := func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "fifo")
			if err := syscall.Mkfifo(path, 0o600); err != nil {
				t.Fatal(err)
			}
			return path
		}
		gst := func(tail string) func(t *testing.T) string {
			return func(t *testing.T) string { return "videotestsrc " + tail + ",width=64,height=48" }
		}
		for kind, c := range map[string]visiontest.Case{
			"folder":       {Open: from(func(t *testing.T) string { return folderOf(t, 12) }), Frames: 12, Ends: true},
			"picture":      {Open: from(func(t *testing.T) string { return filepath.Join(folderOf(t, 1), "frame-0.png") }), Frames: 1, Ends: true},
			"mjpeg file":   {Open: from(func(t *testing.T) string { return write(t, "night", mjpegOf(6)) }), Frames: 6, Ends: true},
			"stdin":        {Open: stdin(pipe, 6), Frames: 6, Ends: true, Silent: stdin(pipe, 0)},
			"stdin, shell": {Open: stdin(blockingPipe, 6), Frames: 6, Ends: true, Silent: stdin(blockingPipe, 0)},
			"named pipe": {Open: func(t *testing.T) vision.Source {
				path := fifo(t)
				s := open(t, path, clock)
				if err := os.WriteFile(path, mjpegOf(6), 0); err != nil {
					t.Fatal(err)
				}
				return s
			}, Frames: 6, Ends: true, Silent: from(fifo)},
			"http":             {Open: from(func(t *testing.T) string { return serve(t, multipart(6)) }), Frames: 6, Silent: from(func(t *testing.T) string { return serve(t, silent) })},
			"video, lossless":  {Open: from(func(t *testing.T) string { return video(t, "a.mkv", "-c:v", "ffv1") }), Frames: 8, Ends: true},
			"video, h.264":     {Open: from(func(t *testing.T) string { return video(t, "a.mp4", "-c:v", "libx264") }), Frames: 8, Ends: true},
			"gstreamer":        {Open: from(gst("num-buffers=5 ! video/x-raw")), Frames: 5, Ends: clock.Frames},
			"gstreamer, 16bit": {Open: from(gst("num-buffers=3 ! video/x-raw,format=GRAY16_LE")), Frames: 3, Ends: clock.Frames},
		} {
			c.FPS = fps
			if !clock.Frames && strings.HasPrefix(kind, "gstreamer") {
				c.Frames = 1 // by the wall clock its sink drops
			}
			t.Run(name+"/"+kind, func(t *testing.T) { visiontest.CheckSource(t, c) })
		}
	}
}

// brightness is the frame's mean.
func brightness(t *testing.T, s vision.Source) float64 {
	t.Helper()
	f, err := s.Next(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, v := range f.Pix {
		sum += float64(v)
	}
	return sum / float64(len(f.Pix))
}

// Every way in gives the same pictures, in order.
func TestPicturesAndTheirOrder(t *testing.T) {
	for name, spec := range map[string]string{
		"folder": folderOf(t, 12), "mjpeg": write(t, "x", mjpegOf(8)),
		"http": serve(t, multipart(8)), "video": video(t, "a.mkv", "-c:v", "ffv1"),
	} {
		s := open(t, spec, Options{Frames: true})
		for i := range 8 {
			if got, want := brightness(t, s), float64(10*i); got < want-1.5 || got > want+1.5 {
				t.Errorf("%s: frame %d has brightness %g, want %g", name, i, got, want)
			}
		}
		s.Close()
	}
}

// Limited-range YUV (ITU-R BT.601: black 16, white 235) is stretched, but for a
// rounding of GStreamer's (253); grey passes as it is, 8 and 16 bits.
func TestGStreamerPictures(t *testing.T) {
	for caps, want := range map[string]float64{
		"format=I420 pattern=white": 254, "format=I420 pattern=black": 0, "format=RGB pattern=white": 255,
		"format=GRAY8 pattern=white": 235, "format=GRAY16_LE pattern=white": 235 * 257,
	} {
		format, pattern, _ := strings.Cut(caps, " ")
		// 61 pixels a row: GStreamer pads rows to 4 bytes.
		s := open(t, "videotestsrc num-buffers=1 "+pattern+" ! video/x-raw,width=61,height=47,"+format, Options{Frames: true})
		if got := brightness(t, s); got < want-1.01 || got > want+1.01 {
			t.Errorf("%s: brightness %g, want %g", caps, got, want)
		}
		s.Close()
	}
}

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

// Somebody feeds one frame and waits for what is said before he feeds the next.
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

// A damaged picture is told and counted, and the stream goes on.
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

// What is lost is lost, and not an orderly end.
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
		s := open(t, spec, Options{Patience: 300 * time.Millisecond, Frames: strings.Contains(spec, " ! ")})
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

// Folders are paced by the wall clock, as a camera would be.
func TestPaced(t *testing.T) {
	s := open(t, folderOf(t, 4), Options{FPS: 50})
	defer s.Close()
	start := time.Now()
	for range 4 {
		brightness(t, s)
	}
	if took := time.Since(start); took < 60*time.Millisecond {
		t.Errorf("4 frames at 50 a second took %v, want 60 ms at least", took)
	}
}

func TestCannotOpen(t *testing.T) {
	null, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	defer null.Close()
	for spec, want := range map[string]string{
		"":                                 "no camera is named",
		"-":                                "nothing is piped into it",
		"97":                               "there is no /dev/video97",
		"/dev/video98":                     "there is no /dev/video98",
		"/dev/null":                        "not a camera",
		"no-such-folder":                   "check the name",
		"ftp://somewhere":                  "use http://",
		"http://127.0.0.1:1/":              "check the address",
		serve(t, http.NotFound):            "404",
		t.TempDir():                        "no picture in",
		write(t, "empty.mp4", nil):         "is empty",
		write(t, "text.mp4", []byte("hi")): "no video",
		"nonsuchsrc ! videoconvert":        "try it with gst-launch-1.0",
	} {
		s, err := Open(t.Context(), spec, Options{Stdin: null})
		if err == nil {
			s.Close()
			t.Errorf("%q opens", spec)
			continue
		}
		if !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "; ") && !strings.Contains(err.Error(), ": ") {
			t.Errorf("%q: %v; want %q and a next step", spec, err, want)
		}
	}
	if _, err := Open(t.Context(), "-", Options{FPS: -1}); err == nil {
		t.Error("a negative frame rate is taken")
	}
}

// A name from outside is a file's name and nothing else.
func TestNamesAreNotInterpreted(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{"concat:a|b", "-loglevel", "frame%03d.mp4", "pipe:0"} {
		if err := os.WriteFile(name, []byte("text, no video"), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(t.Context(), name, Options{}); err == nil || !strings.Contains(err.Error(), "no video") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestNaturalOrder(t *testing.T) {
	for _, pair := range [][2]string{{"a2", "a10"}, {"a9.png", "a09b.png"}, {"a", "b"}, {"x1y2", "x1y10"}, {"1", "a"}} {
		if natural(pair[0], pair[1]) >= 0 && natural(pair[1], pair[0]) <= 0 {
			t.Errorf("%q does not come before %q", pair[0], pair[1])
		}
	}
	if natural("a1", "a01") == 0 {
		t.Error("two names are taken for one")
	}
}

// Colour goes to grey with the same weights on every way in (ITU-R BT.601).
func TestColourWeights(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for i := range 64 * 48 {
		img.Set(i%64, i/64, color.RGBA{200, 100, 50, 255})
	}
	dir := t.TempDir()
	file, err := os.Create(filepath.Join(dir, "a.png"))
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(png.Encode(file, img), file.Close()); err != nil {
		t.Fatal(err)
	}
	avi := filepath.Join(t.TempDir(), "a.avi")
	run(t, "ffmpeg", "-nostdin", "-loglevel", "error", "-i", file.Name(), "-c:v", "rawvideo", "-pix_fmt", "bgr24", avi)
	var b bytes.Buffer
	jpeg.Encode(&b, img, &jpeg.Options{Quality: 95})
	const want = 0.299*200 + 0.587*100 + 0.114*50
	for _, spec := range []string{dir, avi, write(t, "a.jpg", b.Bytes())} {
		s := open(t, spec, Options{Frames: true})
		if got := brightness(t, s); got < want-1 || got > want+1 {
			t.Errorf("%s: brightness %g, want %g", spec, got, want)
		}
		s.Close()
	}
}
