package camera

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"path/filepath"
	"testing"
	"time"

	"halocue/vision"
)

// loop is a stream of one picture without end.
type loop struct {
	picture []byte
	at      int
}

func (l *loop) Read(p []byte) (int, error) {
	n := copy(p, l.picture[l.at:])
	l.at = (l.at + n) % len(l.picture)
	return n, nil
}

func noisy(w, h int) []byte {
	img := image.NewGray(image.Rect(0, 0, w, h))
	v := uint32(1)
	for i := range img.Pix {
		v = v*1664525 + 1013904223
		img.Pix[i] = byte(v >> 28)
		if x, y := i%w-w/2, i/w-h/2; x*x+y*y < h*h/16 {
			img.Pix[i] += 120
		}
	}
	var b bytes.Buffer
	jpeg.Encode(&b, img, &jpeg.Options{Quality: 90})
	return b.Bytes()
}

// kinds are sources that go on for long, of pictures of w x h.
func kinds(tb testing.TB, w, h int) map[string]func() vision.Source {
	must := func(s vision.Source, err error) vision.Source {
		if err != nil {
			tb.Fatal(err)
		}
		return s
	}
	ctx := tb.Context()
	avi := filepath.Join(tb.TempDir(), "a.avi")
	run(tb, "ffmpeg", "-nostdin", "-loglevel", "error", "-f", "lavfi", "-i", fmt.Sprintf("testsrc=size=%dx%d", w, h), "-frames:v", "300", "-c:v", "mjpeg", avi)
	return map[string]func() vision.Source{
		"mjpeg": func() vision.Source {
			return must(Open(ctx, "-", Options{Frames: true, Patience: time.Minute, Stdin: io.Reader(&loop{picture: noisy(w, h)})}))
		},
		"video": func() vision.Source { return must(Open(ctx, avi, Options{Frames: true})) },
		"gstreamer": func() vision.Source {
			return must(Open(ctx, fmt.Sprintf("videotestsrc ! video/x-raw,format=I420,width=%d,height=%d", w, h), Options{Frames: true}))
		},
	}
}

func TestNoAllocationPerFrame(t *testing.T) {
	for name, open := range kinds(t, 160, 120) {
		s := open()
		for range 3 { // room is made
			brightness(t, s)
		}
		ctx := t.Context()
		if n := testing.AllocsPerRun(100, func() {
			if _, err := s.Next(ctx); err != nil {
				t.Fatal(err)
			}
		}); n > 0 {
			t.Errorf("%s: %g allocations per frame", name, n)
		}
		s.Close()
	}
}

// From the bytes of a stream to linear grey.
func BenchmarkFrame1280x960(b *testing.B) {
	for name, open := range kinds(b, 1280, 960) {
		b.Run(name, func(b *testing.B) {
			s := open()
			defer func() { s.Close() }()
			b.ReportAllocs()
			for b.Loop() {
				_, err := s.Next(b.Context())
				if err == io.EOF { // the video's end: again from the start
					s.Close()
					s = open()
					_, err = s.Next(b.Context())
				}
				if err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
