package jpeg

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	stdjpeg "image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"halocue/vision/frame"
	"halocue/vision/still"
	"halocue/vision/visiontest"
)

// star is a noisy ring on a dark sky, as a JPEG: grey, or colour with chroma at
// half resolution as cameras send it.
func star(w, h int, grey bool) []byte {
	rng := rand.New(rand.NewPCG(1, 2))
	at := func(x, y int) uint8 {
		r := math.Hypot(float64(x)-float64(w)/2+7.3, float64(y)-float64(h)/2-4.1)
		v := 12 + 4*rng.NormFloat64()
		if r > float64(h)/16 && r < float64(h)/5 {
			v += 150
		}
		return uint8(min(max(v, 0), 255))
	}
	var img image.Image
	if grey {
		g := image.NewGray(image.Rect(0, 0, w, h))
		for i := range g.Pix {
			g.Pix[i] = at(i%w, i/w)
		}
		img = g
	} else {
		c := image.NewRGBA(image.Rect(0, 0, w, h))
		for y := range h {
			for x := range w {
				v := at(x, y)
				c.Set(x, y, color.RGBA{v, uint8(float64(v) * 0.9), v / 2, 255})
			}
		}
		img = c
	}
	var b bytes.Buffer
	stdjpeg.Encode(&b, img, &stdjpeg.Options{Quality: 90})
	return b.Bytes()
}

func BenchmarkDecode1280x960(b *testing.B) {
	for _, kind := range []string{"grey", "colour"} {
		data := star(1280, 960, kind == "grey")
		b.Run(kind+"/libjpeg", func(b *testing.B) {
			var d Decoder
			defer d.Close()
			var f frame.Frame
			b.ReportAllocs()
			for b.Loop() {
				if err := d.Decode(&f, data); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(kind+"/std", func(b *testing.B) {
			var f frame.Frame
			b.ReportAllocs()
			for b.Loop() {
				img, err := stdjpeg.Decode(bytes.NewReader(data))
				if err != nil {
					b.Fatal(err)
				}
				still.Grey(&f, img)
			}
		})
	}
}

// The standard library is an independent decoder: the luma of both agrees but
// for the rounding of the inverse DCT.
func TestAgreesWithTheStandardLibrary(t *testing.T) {
	for _, grey := range []bool{true, false} {
		data := star(323, 241, grey)
		img, err := stdjpeg.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		var want frame.Frame
		still.Grey(&want, img)
		got := decode(t, data)
		if got.Width != 323 || got.Height != 241 || got.White != 255 {
			t.Fatalf("got %d x %d, white %g", got.Width, got.Height, got.White)
		}
		for i := range want.Pix {
			if math.Abs(float64(got.Pix[i]-want.Pix[i])) > 1 {
				t.Fatalf("grey %v: pixel %d is %g, want %g", grey, i, got.Pix[i], want.Pix[i])
			}
		}
	}
}

func decode(t *testing.T, data []byte) *frame.Frame {
	t.Helper()
	var d Decoder
	defer d.Close()
	var f frame.Frame
	if err := d.Decode(&f, data); err != nil {
		t.Fatal(err)
	}
	return &f
}

// Cameras' MJPEG leaves the Huffman tables out where they are the usual ones
// (ITU-T T.81 annex K.3), and may leave stray bytes before the end.
func TestCamerasHabits(t *testing.T) {
	data := star(64, 48, true)
	want := decode(t, data)
	bare := append([]byte(nil), data...)
	for { // drop every DHT segment
		i := bytes.Index(bare, []byte{0xff, 0xc4})
		if i < 0 {
			break
		}
		n := 2 + int(bare[i+2])<<8 + int(bare[i+3])
		bare = append(bare[:i], bare[i+n:]...)
	}
	if len(bare) == len(data) {
		t.Fatal("no table was dropped")
	}
	end := len(data) - 2
	stray := append(append(append([]byte(nil), data[:end]...), 0, 0, 0), data[end:]...)
	for name, d := range map[string][]byte{"no tables": bare, "stray bytes": stray} {
		got := decode(t, d)
		for i := range want.Pix {
			if got.Pix[i] != want.Pix[i] {
				t.Errorf("%s: pixel %d is %g, want %g", name, i, got.Pix[i], want.Pix[i])
				break
			}
		}
	}
}

func TestDamaged(t *testing.T) {
	data := star(64, 48, true)
	end := len(data) - 2
	short := append(append([]byte(nil), data[:end*2/3]...), data[end:]...) // with its EOI
	for name, bad := range map[string][]byte{
		"empty": nil, "text": []byte("no stars tonight"), "cut": data[:end*2/3], "short": short, "header only": data[:200],
	} {
		var d Decoder
		var f frame.Frame
		if err := d.Decode(&f, bad); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: error %v, want ErrDamaged", name, err)
		}
		// And the next picture is read as if nothing had been.
		if err := d.Decode(&f, data); err != nil || f.Width != 64 {
			t.Errorf("%s: the picture after it: %v", name, err)
		}
		d.Close()
	}
}

func TestNoAllocationPerPicture(t *testing.T) {
	data := star(320, 240, false)
	var d Decoder
	defer d.Close()
	var f frame.Frame
	if n := testing.AllocsPerRun(20, func() {
		if err := d.Decode(&f, data); err != nil {
			t.Fatal(err)
		}
	}); n > 0 {
		t.Errorf("%g allocations per picture", n)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(star(16, 16, true))
	f.Add(star(24, 8, false))
	large := star(16, 16, false)
	copy(large[bytes.Index(large, []byte{0xff, 0xc0})+5:], []byte{0xff, 0xff, 0xff, 0xff}) // 65,535 pixels square
	f.Add(large)
	f.Fuzz(func(t *testing.T, data []byte) {
		var d Decoder
		defer d.Close()
		var got frame.Frame
		var err error
		visiontest.Bounded(t, func() { err = d.Decode(&got, data) })
		if err == nil && len(got.Pix) != got.Width*got.Height {
			t.Fatalf("%d x %d pixels in a slice of %d", got.Width, got.Height, len(got.Pix))
		}
	})
}
