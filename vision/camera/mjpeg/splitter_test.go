package mjpeg

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"io"
	"testing"
	"testing/iotest"
)

// picture is a sound JPEG of noise, so that its data holds FF 00 pairs.
func picture(seed, w, h int) []byte {
	img := image.NewGray(image.Rect(0, 0, w, h))
	v := uint32(seed)*2654435761 + 1
	for i := range img.Pix {
		v = v*1664525 + 1013904223
		img.Pix[i] = byte(v >> 24)
	}
	var b bytes.Buffer
	jpeg.Encode(&b, img, &jpeg.Options{Quality: 95})
	return b.Bytes()
}

// withThumbnail puts an APP1 segment that holds a whole small JPEG into p, as
// still cameras do.
func withThumbnail(p []byte) []byte {
	thumb := picture(99, 8, 8)
	out := append([]byte{}, p[:2]...)
	out = append(out, 0xff, 0xe1, byte((len(thumb)+2)>>8), byte(len(thumb)+2))
	out = append(out, thumb...)
	return append(out, p[2:]...)
}

// all reads to the end; broken pictures are counted.
func all(t *testing.T, s *Splitter) (pictures [][]byte, broken int, last error) {
	t.Helper()
	for range 10_000 {
		p, err := s.Next()
		switch {
		case errors.Is(err, ErrBroken):
			broken++
		case err != nil:
			if _, again := s.Next(); again != err {
				t.Errorf("after the final %v came %v", err, again)
			}
			return pictures, broken, err
		default:
			pictures = append(pictures, bytes.Clone(p))
		}
	}
	t.Fatal("the stream does not end")
	return
}

func join(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

func TestSplits(t *testing.T) {
	a, b, c := picture(1, 64, 48), withThumbnail(picture(2, 32, 32)), picture(3, 200, 200)
	boundary := []byte("\r\n--frame\r\nContent-Type: image/jpeg\r\nContent-Length: 1234\r\n\r\n")
	// Fill bytes before a marker are allowed: T.81 B.1.1.2.
	filled := join(a[:2], []byte{0xff, 0xff}, a[2:len(a)-2], []byte{0xff, 0xff}, a[len(a)-2:])
	for _, tc := range []struct {
		name   string
		stream []byte
		want   [][]byte
		broken int
		last   error
	}{
		{"empty", nil, nil, 0, io.EOF},
		{"three", join(a, b, c), [][]byte{a, b, c}, 0, io.EOF},
		{"multipart", join(boundary, a, boundary, b, boundary, c, []byte("\r\n--frame--\r\n")), [][]byte{a, b, c}, 0, io.EOF},
		{"fill bytes", join(filled, b), [][]byte{filled, b}, 0, io.EOF},
		{"starts in the middle", join(a[len(a)/2:], b), [][]byte{b}, 0, io.EOF},
		{"cut short in the data", join(a, c[:len(c)/2], b), [][]byte{a, b}, 1, io.EOF},
		{"cut short before a marker", join(a, c[:2], b), [][]byte{a, b}, 1, io.EOF},
		{"cut short in a segment", join(a, c[:40], b, c), [][]byte{a, b, c}, 1, io.EOF},
		{"ends early", join(a, c[:len(c)/2]), [][]byte{a}, 1, io.EOF},
		{"garbage between", join(a, []byte{0xff, 0xd8, 0, 1, 2, 0xff, 0xff}, c), [][]byte{a, c}, 0, io.EOF},
		{"text only", []byte("ffmpeg: no such camera\n"), nil, 0, ErrNoJPEG},
		{"too large", join(a, picture(4, 900, 900), b), [][]byte{a, b}, 1, io.EOF},
	} {
		t.Run(tc.name, func(t *testing.T) {
			for name, r := range map[string]io.Reader{
				"whole":     bytes.NewReader(tc.stream),
				"bytewise":  iotest.OneByteReader(bytes.NewReader(tc.stream)),
				"data+EOF":  iotest.DataErrReader(bytes.NewReader(tc.stream)),
				"half read": iotest.HalfReader(bytes.NewReader(tc.stream)),
			} {
				got, broken, last := all(t, NewSplitter(r, 256<<10))
				if len(got) != len(tc.want) || broken != tc.broken || last != tc.last {
					t.Fatalf("%s: %d pictures, %d broken, then %v; want %d, %d, %v",
						name, len(got), broken, last, len(tc.want), tc.broken, tc.last)
				}
				for i := range got {
					if !bytes.Equal(got[i], tc.want[i]) {
						t.Errorf("%s: picture %d differs", name, i)
					}
				}
			}
		})
	}
}

// lockstep hands out one picture, and no byte more before it is answered.
type lockstep struct {
	t        *testing.T
	pictures [][]byte
	chunk    int
	left     []byte
	answered int
	sent     int
}

func (l *lockstep) Read(p []byte) (int, error) {
	if len(l.left) == 0 {
		if l.answered < l.sent {
			l.t.Fatalf("the splitter waits for a byte after picture %d, which is there to the last byte", l.sent)
		}
		if l.sent == len(l.pictures) {
			return 0, io.EOF
		}
		l.left = l.pictures[l.sent]
		l.sent++
	}
	n := copy(p, l.left[:min(l.chunk, len(l.left))])
	l.left = l.left[n:]
	return n, nil
}

// An outside program may feed one frame and wait for what is said to it.
func TestDeliversWithoutWaitingForTheNext(t *testing.T) {
	for _, chunk := range []int{1, 7, 4096, 1 << 20} {
		l := &lockstep{t: t, chunk: chunk, pictures: [][]byte{
			picture(1, 64, 48), withThumbnail(picture(2, 64, 48)), picture(3, 300, 200), picture(4, 1, 1)}}
		s := NewSplitter(l, 0)
		for i, want := range l.pictures {
			got, err := s.Next()
			if err != nil || !bytes.Equal(got, want) {
				t.Fatalf("chunk %d, picture %d: %v", chunk, i, err)
			}
			l.answered++
		}
		if _, err := s.Next(); err != io.EOF {
			t.Errorf("at the end: %v", err)
		}
	}
}

// A reader's own error (a cable pulled) is handed on and final.
func TestReaderFails(t *testing.T) {
	pulled := errors.New("pulled")
	a := picture(1, 64, 48)
	s := NewSplitter(io.MultiReader(bytes.NewReader(join(a, a[:100])), iotest.ErrReader(pulled)), 0)
	got, broken, last := all(t, s)
	if len(got) != 1 || broken != 0 || last != pulled {
		t.Errorf("%d pictures, %d broken, %v", len(got), broken, last)
	}
}

// Endless noise is refused in bounded memory.
func TestEndlessNoise(t *testing.T) {
	s := NewSplitter(zeros{}, 0)
	if _, err := s.Next(); err != ErrNoJPEG {
		t.Errorf("got %v", err)
	}
	if len(s.buf) > 1<<20 {
		t.Errorf("the buffer grew to %d bytes", len(s.buf))
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestNoAllocationPerPicture(t *testing.T) {
	stream := bytes.Repeat(picture(1, 64, 48), 200)
	s := NewSplitter(bytes.NewReader(stream), 0)
	if n := testing.AllocsPerRun(100, func() {
		if _, err := s.Next(); err != nil {
			t.Fatal(err)
		}
	}); n > 0 {
		t.Errorf("%g allocations per picture", n)
	}
}

// Whatever the bytes, and however they are cut up: the same pictures, each from
// an SOI to an EOI, and an end.
func FuzzSplitter(f *testing.F) {
	a := picture(1, 16, 16)
	f.Add(join(a, a), 5)
	f.Add(join(a[:len(a)/2], withThumbnail(a), []byte("\r\n--x\r\n"), a), 1)
	f.Fuzz(func(t *testing.T, data []byte, chunk int) {
		chunk = 1 + (chunk&0xffff)%1000
		whole, broken, last := all(t, NewSplitter(bytes.NewReader(data), 4096))
		l := &lockstep{t: t, pictures: [][]byte{data}, chunk: chunk, answered: 1}
		cut, broken2, last2 := all(t, NewSplitter(l, 4096))
		if len(whole) != len(cut) || broken != broken2 || last != last2 {
			t.Fatalf("whole: %d pictures, %d broken, %v; in pieces: %d, %d, %v", len(whole), broken, last, len(cut), broken2, last2)
		}
		for i, p := range whole {
			if !bytes.HasPrefix(p, []byte{0xff, 0xd8, 0xff}) || !bytes.HasSuffix(p, []byte{0xff, 0xd9}) || !bytes.Equal(p, cut[i]) {
				t.Fatalf("picture %d", i)
			}
		}
	})
}

// A marker without a length may stand between segments: TEM, 01, and the eight restarts, D0 to
// D7 (ITU-T T.81, table B.1).
func TestMarkersWithoutALength(t *testing.T) {
	for _, code := range []byte{0x01, 0xd0, 0xd7} {
		p := picture(1, 32, 32)
		p = join(p[:2], []byte{0xff, code}, p[2:])
		got, broken, err := all(t, NewSplitter(bytes.NewReader(join(p, p)), 0))
		if len(got) != 2 || broken > 0 || err != io.EOF || !bytes.Equal(got[0], p) {
			t.Errorf("marker %x: %d pictures, %d broken, %v", code, len(got), broken, err)
		}
	}
}
