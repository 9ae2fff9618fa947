package camera

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"time"

	"halocue/vision"
	"halocue/vision/visiontest"
)

// newest feeds JPEGs through the pipe to vision.Newest, which decodes them.
func newest(t *testing.T, stream io.Reader) *vision.Mailbox {
	t.Helper()
	box := vision.Newest(open(t, "-", Options{Undeveloped: true, Stdin: stream}))
	t.Cleanup(func() { _ = box.Close() })
	return box
}

// Only pictures that somebody wants are decoded, and they are the same as ever.
func TestUndeveloped(t *testing.T) {
	r, w := blockingPipe(t)
	box := newest(t, r)
	for i := range 12 {
		if _, err := w.Write(jpegOf(i)); err != nil {
			t.Fatal(err)
		}
		f, err := box.Next(t.Context())
		if err != nil || f.Width != 64 || f.Height != 48 || f.White != 255 || len(f.Pix) != 64*48 || f.Seq != uint64(i) || f.Develop != nil {
			t.Fatalf("frame %d: %v, or not as it should be", i, err)
		}
		for _, v := range f.Pix {
			if v < float32(10*i)-1 || v > float32(10*i)+1 {
				t.Fatalf("frame %d holds %g", i, v)
			}
		}
	}
	// One that is damaged inside is found only now; those that nobody waits for, never.
	damaged := jpegOf(3)
	copy(damaged[len(damaged)-12:], bytes.Repeat([]byte{0x55}, 8))
	for _, picture := range [][]byte{damaged, jpegOf(5)} {
		if _, err := w.Write(picture); err != nil {
			t.Fatal(err)
		}
		_, err := box.Next(t.Context())
		if bytes.Equal(picture, damaged) != errors.Is(err, vision.ErrBadFrame) {
			t.Fatal(err)
		}
	}
	for i := range 5 {
		picture := damaged
		if i == 4 {
			picture = jpegOf(7)
		}
		if _, err := w.Write(picture); err != nil {
			t.Fatal(err)
		}
	}
	for end := time.Now().Add(10 * time.Second); box.Dropped() < 4 && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
	if f, err := box.Next(t.Context()); err != nil || f.Pix[0] < 69 || f.Pix[0] > 71 {
		t.Fatalf("after four that were dropped: %v, %v", f, err)
	}
	// A header that is no picture's is known at once.
	if _, err := w.Write([]byte{0xff, 0xd8, 0xff, 0xd9}); err != nil {
		t.Fatal(err)
	}
	if _, err := box.Next(t.Context()); !errors.Is(err, vision.ErrBadFrame) {
		t.Errorf("%v", err)
	}
}

// The last frame may be developed when the stream has ended, and even been closed.
func TestDevelopAfterClose(t *testing.T) {
	r, w := blockingPipe(t)
	s := open(t, "-", Options{Undeveloped: true, Stdin: r})
	if _, err := w.Write(jpegOf(1)); err != nil {
		t.Fatal(err)
	}
	f, err := s.Next(t.Context())
	if err != nil || f.Develop == nil {
		t.Fatalf("%v, %v", f, err)
	}
	develop, jpeg := f.Develop, *f
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := develop(&jpeg); err != nil || jpeg.Width != 64 {
		t.Errorf("%d wide, %v", jpeg.Width, err)
	}
}

func TestUndevelopedKeepsTheContract(t *testing.T) {
	silent := func(t *testing.T) vision.Source {
		r, _ := blockingPipe(t)
		return newest(t, r)
	}
	visiontest.CheckSource(t, visiontest.Case{Frames: 2, Silent: silent, Open: func(t *testing.T) vision.Source {
		r, w := blockingPipe(t)
		go func() {
			for i := range 20 { // slowly, so that none is dropped
				if _, err := w.Write(jpegOf(i)); err != nil {
					return
				}
				time.Sleep(20 * time.Millisecond)
			}
		}()
		return newest(t, r)
	}})
}
