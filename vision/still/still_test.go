package still

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halocue/vision/frame"
	"halocue/vision/visiontest"
)

// The pictures come from ffmpeg, by formulas (testdata/make.sh).
func TestReadsWhatFFmpegWrote(t *testing.T) {
	grey8 := func(x, y int) float64 { return float64(3*x + 2*y) }
	grey16 := func(x, y int) float64 { return float64(257*(3*x+2*y) + x) }
	// Luma by ITU-R BT.601; red 5x never reaches 254 except at x = 51 > 47.
	colour := func(x, y int) float64 {
		return 0.299*float64(5*x) + 0.587*float64(7*y) + 0.114*float64(3*x+2*y)
	}
	colour16 := func(x, y int) float64 { return 257 * colour(x, y) }
	upsideDown := func(g func(x, y int) float64) func(x, y int) float64 {
		return func(x, y int) float64 { return g(x, 31-y) }
	}
	for _, c := range []struct {
		file      string
		want      func(x, y int) float64
		white     float32
		tolerance float64
	}{
		{"grey8.png", grey8, 255, 0},
		{"grey16.png", grey16, 65535, 0},
		{"colour.png", colour, 255, 1e-3},
		{"colour16.png", colour16, 65535, 0.1},
		{"grey8.jpg", grey8, 255, 2},
		{"colour.jpg", colour, 255, 2},
		{"grey8.tif", grey8, 255, 0},
		{"grey16.tif", grey16, 65535, 0},
		{"colour.tif", colour, 255, 1e-3},
		// ffmpeg stores the bottom row first, as FITS displays have it.
		{"grey8.fits", upsideDown(grey8), 255, 0},
		{"grey16.fits", upsideDown(grey16), 65535, 0},
		{"grey16.fits.fz", upsideDown(grey16), 65535, 0}, // tile-compressed by fpack
		{"colour.fits", upsideDown(colour), 255, 1e-3},
	} {
		t.Run(c.file, func(t *testing.T) {
			path := filepath.Join("testdata", c.file)
			f, err := ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if f.Width != 48 || f.Height != 32 || f.White != c.white || f.Name != path {
				t.Fatalf("got %d x %d, white %g, name %q", f.Width, f.Height, f.White, f.Name)
			}
			worst := 0.0
			for y := range f.Height {
				for x := range f.Width {
					worst = max(worst, math.Abs(float64(f.Pix[y*f.Width+x])-c.want(x, y)))
				}
			}
			if worst > c.tolerance {
				t.Errorf("differs by up to %g, allowed %g", worst, c.tolerance)
			}
		})
	}
}

// fitsFile writes a FITS file by hand, after the FITS standard 4.0: cards of 80
// characters, blocks of 2880 bytes, big endian.
func fitsFile(bitpix int, dims []int, cards []string, data any) []byte {
	var b bytes.Buffer
	card := func(format string, a ...any) { fmt.Fprintf(&b, "%-80s", fmt.Sprintf(format, a...)) }
	card("SIMPLE  = %20s", "T")
	card("BITPIX  = %20d", bitpix)
	card("NAXIS   = %20d", len(dims))
	for i, n := range dims {
		card("NAXIS%d  = %20d", i+1, n)
	}
	for _, c := range cards {
		card("%s", c)
	}
	card("END")
	pad := func(with string) {
		for b.Len()%2880 != 0 {
			b.WriteString(with)
		}
	}
	pad(" ")
	if err := binary.Write(&b, binary.BigEndian, data); err != nil {
		panic(err)
	}
	pad("\x00")
	return b.Bytes()
}

// decoded reads the picture in data as one from a stream.
func decoded(data []byte) (*frame.Frame, error) {
	f := &frame.Frame{}
	return f, DecodeInto(f, data)
}

func decodeOK(t *testing.T, data []byte) *frame.Frame {
	t.Helper()
	f, err := decoded(data)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func samePixels(t *testing.T, f *frame.Frame, w, h int, want ...float32) {
	t.Helper()
	if f.Width != w || f.Height != h {
		t.Fatalf("%d x %d pixels, want %d x %d", f.Width, f.Height, w, h)
	}
	for i, v := range want {
		if f.Pix[i] != v {
			t.Errorf("pixels %v, want %v", f.Pix, want)
			return
		}
	}
}

func TestFITSNumbers(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	t.Run("NaN and infinity become 0", func(t *testing.T) {
		f := decodeOK(t, fitsFile(-32, []int{3, 2}, nil, []float32{1, nan, 3, inf, -inf, 6}))
		samePixels(t, f, 3, 2, 1, 0, 3, 0, 0, 6)
		if f.White != 0 {
			t.Errorf("white %g, want 0: a float file does not tell", f.White)
		}
	})
	t.Run("negative values are lifted", func(t *testing.T) {
		f := decodeOK(t, fitsFile(-32, []int{2, 2}, []string{"SATURATE= 100.0"}, []float32{-2, 0, 5, 100}))
		samePixels(t, f, 2, 2, 0, 2, 7, 102)
		if f.White != 102 {
			t.Errorf("white %g, want 102", f.White)
		}
	})
	t.Run("one absurd value is cut", func(t *testing.T) {
		f := decodeOK(t, fitsFile(-64, []int{2, 2}, nil, []float64{-1e30, 1, 2, 3}))
		samePixels(t, f, 2, 2, 0, 1, 2, 3)
	})
	t.Run("scale and zero point", func(t *testing.T) {
		f := decodeOK(t, fitsFile(16, []int{2, 1}, []string{"BSCALE  = 2.0", "BZERO   = 10.0"}, []int16{1, 100}))
		samePixels(t, f, 2, 1, 12, 210)
	})
	t.Run("32-bit integers", func(t *testing.T) {
		samePixels(t, decodeOK(t, fitsFile(32, []int{2, 1}, nil, []int32{7, 70000})), 2, 1, 7, 70000)
	})
	t.Run("bottom row first", func(t *testing.T) {
		f := decodeOK(t, fitsFile(8, []int{1, 3}, []string{"ROWORDER= 'BOTTOM-UP'"}, []byte{1, 2, 3}))
		samePixels(t, f, 1, 3, 3, 2, 1)
	})
	t.Run("mosaic", func(t *testing.T) {
		f := decodeOK(t, fitsFile(8, []int{3, 2}, []string{"BAYERPAT= 'RGGB    '"}, []byte{8, 4, 8, 4, 0, 4}))
		samePixels(t, f, 2, 1, 4, 4)
	})
	t.Run("gzipped", func(t *testing.T) {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		z.Write(fitsFile(8, []int{2, 1}, nil, []byte{5, 6}))
		z.Close()
		samePixels(t, decodeOK(t, b.Bytes()), 2, 1, 5, 6)
	})
}

// A mosaic over an even grey field and a slope must vanish, and the field's
// centre must stay at the frame's centre.
func TestMosaicLeavesScaleAndCentre(t *testing.T) {
	f := frame.New(9, 7)
	cx, cy := f.Centre()
	gain := [2][2]float32{{0.5, 1}, {1, 1.5}} // mean 1
	for y := range 7 {
		for x := range 9 {
			f.Pix[y*9+x] = 100 * gain[y%2][x%2]
		}
	}
	mosaic(f)
	if x, y := f.Centre(); x != cx-0.5 || y != cy-0.5 {
		t.Errorf("centre %g, %g; each pixel now stands half a pixel further: want %g, %g", x, y, cx-0.5, cy-0.5)
	}
	for i, v := range f.Pix {
		if v != 100 {
			t.Fatalf("pixel %d is %g, want 100", i, v)
		}
	}
	clipped := frame.New(2, 2)
	clipped.White = 255
	copy(clipped.Pix, []float32{255, 10, 10, 10})
	mosaic(clipped)
	samePixels(t, clipped, 1, 1, 255)
}

func TestColourBurntOutInOneChannel(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 1, 1))
	copy(img.Pix, []byte{255, 0, 0, 255})
	var f frame.Frame
	Grey(&f, img)
	samePixels(t, &f, 1, 1, 255)
}

// A picture cut out of a larger one does not start at 0, 0.
func TestGreyOfSubImage(t *testing.T) {
	whole := image.NewGray(image.Rect(0, 0, 4, 3))
	for i := range whole.Pix {
		whole.Pix[i] = byte(i)
	}
	ycc := image.NewYCbCr(whole.Rect, image.YCbCrSubsampleRatio420)
	copy(ycc.Y, whole.Pix)
	r := image.Rect(1, 1, 3, 3)
	for _, img := range []image.Image{whole.SubImage(r), ycc.SubImage(r)} {
		var f frame.Frame
		Grey(&f, img)
		samePixels(t, &f, 2, 2, 5, 6, 9, 10)
	}
}

func pngOf(w, h int) []byte {
	var b bytes.Buffer
	png.Encode(&b, image.NewGray(image.Rect(0, 0, w, h)))
	return b.Bytes()
}

func TestSizes(t *testing.T) {
	samePixels(t, decodeOK(t, pngOf(1, 1)), 1, 1, 0)
	if f := decodeOK(t, pngOf(4500, 3500)); f.Width != 4500 || f.Height != 3500 {
		t.Errorf("got %d x %d", f.Width, f.Height)
	}
}

// Bad input gives one sentence: what, why, and after the last "; " what to do.
func TestBadFiles(t *testing.T) {
	read := func(name string) []byte {
		data, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	cut := func(data []byte) []byte { return data[:len(data)*2/3] }
	// A PNG that claims 100000 x 100000 pixels: the size stands at byte 16.
	huge := read("grey8.png")
	binary.BigEndian.PutUint32(huge[16:], 100_000)
	binary.BigEndian.PutUint32(huge[20:], 100_000)
	binary.BigEndian.PutUint32(huge[29:], crc(huge[12:29]))

	for name, c := range map[string]struct {
		data []byte
		say  string
	}{
		"empty":          {nil, "the file is empty"},
		"text.png":       {[]byte("dear diary,\nno stars tonight\n"), "it holds text"},
		"noise":          {[]byte{0, 1, 2, 3, 4, 5, 6, 7}, "not a picture"},
		"cut.jpg":        {cut(read("colour.jpg")), "cut short"},
		"cut.png":        {cut(read("grey16.png")), "cut short"},
		"cut.tif":        {cut(read("colour.tif")), "cut short"},
		"cut.fits":       {read("grey16.fits")[:4000], "ends too early"},
		"head.fits":      {read("grey16.fits")[:200], "ends too early"},
		"huge.png":       {huge, "more than the 33 million"},
		"huge.fits":      {fitsFile(8, []int{1_000_000, 1_000_000}, nil, []byte{}), "ends too early"},
		"cut.fits.fz":    {cut(read("grey16.fits.fz")), "ends too early"},
		"flat.fits":      {fitsFile(8, nil, nil, []byte{}), "holds no image"},
		"flat.png":       {pngOf(4, 4)[:30], "cut short"},
		"gzip of a text": {gzipped("dear diary"), "not a FITS file inside"},
		"cut gzip":       {gzipped("dear diary")[:12], "unpacking"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "x")
			if err := os.WriteFile(path, c.data, 0o600); err != nil {
				t.Fatal(err)
			}
			_, err := ReadFile(path)
			if err == nil {
				t.Fatal("no error")
			}
			if !strings.Contains(err.Error(), c.say) || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "; ") {
				t.Errorf("error %q: want the name, %q and a next step", err, c.say)
			}
		})
	}
	t.Run("missing", func(t *testing.T) {
		_, err := ReadFile(filepath.Join(t.TempDir(), "none.png"))
		if err == nil || !strings.Contains(err.Error(), "check the name") {
			t.Errorf("error %v", err)
		}
	})
	t.Run("folder", func(t *testing.T) {
		_, err := ReadFile(t.TempDir())
		if err == nil || !strings.Contains(err.Error(), "not a file") {
			t.Errorf("error %v", err)
		}
	})
}

func FuzzDecode(f *testing.F) {
	files, _ := filepath.Glob("testdata/grey*")
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add(fitsFile(-32, []int{2, 2, 3}, []string{"BAYERPAT= 'RGGB'"}, make([]float32, 12)))
	for _, hostile := range hostileFiles() {
		f.Add(hostile)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var got *frame.Frame
		var err error
		visiontest.Bounded(t, func() { got, err = decoded(data) })
		if err != nil {
			return
		}
		if got.Width < 1 || got.Height < 1 || len(got.Pix) != got.Width*got.Height {
			t.Fatalf("%d x %d pixels in a slice of %d", got.Width, got.Height, len(got.Pix))
		}
		for i, v := range got.Pix {
			if !(v >= 0) || math.IsInf(float64(v), 0) {
				t.Fatalf("pixel %d is %g", i, v)
			}
		}
	})
}
