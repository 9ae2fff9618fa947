package camera

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"halocue/vision"
	"halocue/vision/visiontest"
)

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
				c.Frames = 1 // the newest frame wins
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
