package still

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"
	"testing"
)

// unitOf is a header of the cards, padded, with data after it.
func unitOf(data []byte, cards ...string) []byte {
	var b bytes.Buffer
	for _, c := range append(cards, "END") {
		fmt.Fprintf(&b, "%-80s", c)
	}
	for b.Len()%2880 != 0 {
		b.WriteByte(' ')
	}
	b.Write(data)
	for b.Len()%2880 != 0 {
		b.WriteByte(0)
	}
	return b.Bytes()
}

// packedAs is a file with a packed image of w by h pixels, whose header says the cards
// in the place of those with the same keyword.
func packedAs(w, h, rows int, cards ...string) []byte {
	head := []string{
		"XTENSION= 'BINTABLE'", "BITPIX  = 8", "NAXIS   = 2", "NAXIS1  = 8", fmt.Sprint("NAXIS2  = ", rows), "PCOUNT  = 0", "GCOUNT  = 1",
		"TFIELDS = 1", "TTYPE1  = 'COMPRESSED_DATA'", "TFORM1  = '1PB(0)'", "ZIMAGE  = T", "ZCMPTYPE= 'RICE_1'", "ZBITPIX = 16",
		"ZNAXIS  = 2", fmt.Sprint("ZNAXIS1 = ", w), fmt.Sprint("ZNAXIS2 = ", h), fmt.Sprint("ZTILE1  = ", w), "ZTILE2  = 1",
	}
	for _, c := range cards {
		for i := range head {
			if head[i][:8] == c[:8] {
				head[i] = c
			}
		}
	}
	first := unitOf(nil, "SIMPLE  = T", "BITPIX  = 8", "NAXIS   = 0")
	return append(first, unitOf(make([]byte, 8*rows), head...)...)
}

// hostileFiles are headers that broke a C library, or ask for more than there is.
func hostileFiles() map[string][]byte {
	image := func(cards ...string) []byte {
		return unitOf(make([]byte, 64), append([]string{"SIMPLE  = T", "BITPIX  = 8"}, cards...)...)
	}
	axes := []string{"NAXIS   = 999"}
	for i := range 999 {
		axes = append(axes, fmt.Sprintf("%-8s= 1", fmt.Sprint("NAXIS", i+1)))
	}
	endless := bytes.Repeat([]byte(fmt.Sprintf("%-80s", "COMMENT")), 36*500)
	copy(endless, image())
	copy(endless[160:], fmt.Sprintf("%-80s", "COMMENT"))
	return map[string][]byte{
		"999 axes":             image(axes...),
		"-1 axes":              image("NAXIS   = -1"),
		"axis of -1":           image("NAXIS   = 2", "NAXIS1  = -1", "NAXIS2  = 3"),
		"axes that overflow":   image("NAXIS   = 3", "NAXIS1  = 2147483647", "NAXIS2  = 2147483647", "NAXIS3  = 2147483647"),
		"axis beyond 64 bits":  image("NAXIS   = 2", "NAXIS1  = 99999999999999999999", "NAXIS2  = 3"),
		"no axis length":       image("NAXIS   = 2", "NAXIS1  = 3"),
		"numbers of 7 bits":    unitOf(nil, "SIMPLE  = T", "BITPIX  = 7", "NAXIS   = 2", "NAXIS1  = 3", "NAXIS2  = 3"),
		"endless header":       endless,
		"endless units":        append(unitOf(nil, "SIMPLE  = T", "BITPIX  = 8", "NAXIS   = 0"), bytes.Repeat(unitOf(nil, "XTENSION= 'TABLE'", "BITPIX  = 8", "NAXIS   = 0"), 100)...),
		"tile of 0":            packedAs(48, 32, 32, "ZTILE1  = 0"),
		"tile of -64":          packedAs(48, 32, 32, "ZTILE2  = -64"),
		"packed axes":          packedAs(48, 32, 32, "ZNAXIS  = 999"),
		"too few parts":        packedAs(48, 32, 31),
		"10000 x 10000 packed": packedAs(10000, 10000, 10000),
		"no field":             packedAs(48, 32, 32, "TFIELDS = -1"),
		"999 fields":           packedAs(48, 32, 32, "TFIELDS = 999"),
		"table of 3 axes":      packedAs(48, 32, 32, "NAXIS   = 999"),
	}
}

// They are refused in words.
func TestHostileHeaders(t *testing.T) {
	for name, data := range hostileFiles() {
		for kind, data := range map[string][]byte{"": data, ", gzipped": gzipped(string(data))} {
			_, err := decoded(data)
			if err == nil || !strings.Contains(err.Error(), "; ") || strings.Contains(err.Error(), "cfitsio") || strings.Contains(err.Error(), "decoder") {
				t.Errorf("%s%s: %v; want it refused here, with the next step", name, kind, err)
			}
		}
	}
}

// A packed picture that breaks the library costs that picture, and the next is read.
func TestUnpackingFailsAlone(t *testing.T) {
	good, err := os.ReadFile(filepath.Join("testdata", "grey16.fits.fz"))
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(good); i += 97 {
		bad := append([]byte(nil), good...)
		for k := i; k < min(i+9, len(bad)); k++ {
			bad[k] ^= 0x5a
		}
		decoded(bad) //nolint:errcheck // some are read all the same: what counts is what follows
	}
	if f := decodeOK(t, good); f.Width != 48 || f.Height != 32 {
		t.Errorf("the picture after them is of %d x %d pixels", f.Width, f.Height)
	}
}

// Few bytes that claim much take no memory to speak of.
func TestBombs(t *testing.T) {
	// What is kept is meant: on a busy machine what was dropped is collected late.
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(60 << 20))
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(unitOf(nil, "SIMPLE  = T", "BITPIX  = 8", "NAXIS   = 0"))
	zeros := make([]byte, 1<<20)
	for range MaxBytes>>20 + 1 {
		z.Write(zeros)
	}
	z.Close()
	var scans bytes.Buffer
	if err := jpeg.Encode(&scans, image.NewGray(image.Rect(0, 0, 64, 64)), nil); err != nil {
		t.Fatal(err)
	}
	sos := bytes.Index(scans.Bytes(), []byte{0xff, 0xda})
	many := append(append([]byte(nil), scans.Bytes()[:sos]...), bytes.Repeat(scans.Bytes()[sos:scans.Len()-2], 150)...)
	many = append(many, 0xff, 0xd9)
	for name, c := range map[string]struct {
		data []byte
		say  string
	}{
		"gzip": {packed.Bytes(), "larger than 128 MB"},
		"png":  {pngOf(10000, 10000)[:100], "million that are taken"},
		"jpeg": {many, "more than 32 scans"},
		"tiff": {[]byte("II*\x00\x08\x00\x00\x00\x02\x00\x00\x01\x04\x00\x01\x00\x00\x00\x10\x27\x00\x00\x01\x01\x04\x00\x01\x00\x00\x00\x10\x27\x00\x00\x00\x00\x00\x00"), "million that are taken"},
	} {
		before := peak(t)
		_, err := decoded(c.data)
		if err == nil || !strings.Contains(err.Error(), c.say) || !strings.Contains(err.Error(), "; ") {
			t.Errorf("%s: %v; want %q", name, err, c.say)
		}
		if took := peak(t) - before; took > 60<<10 {
			t.Errorf("%s: took %d MB", name, took>>10)
		}
	}
}

// peak is the most memory that the program has held, kB.
func peak(t *testing.T) int64 {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return u.Maxrss
}

// A named pipe is no file, whoever writes to it or nobody.
func TestLargeFileIsNotRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "large.png")
	if err := errors.Join(os.WriteFile(path, nil, 0o600), os.Truncate(path, MaxBytes+1)); err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := ReadFile(path)
	runtime.ReadMemStats(&after)
	if took := after.TotalAlloc - before.TotalAlloc; err == nil || !strings.Contains(err.Error(), "larger than") || took > 1<<20 {
		t.Errorf("%v, allocated %d kB", err, took>>10)
	}
}

func TestNamedPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.fits")
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadFile(path); err == nil || !strings.Contains(err.Error(), "not a file") {
		t.Errorf("error %v", err)
	}
}

// What a file is called steers no terminal: neither where it is missing nor where it is no
// picture.
func TestNamesAreWrittenOut(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a\u009b31m\u202e\nhalocue: all is well")
	for _, data := range []string{"", "x"} {
		if data != "" {
			if err := os.WriteFile(path, []byte(data), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := ReadFile(path); err == nil || strings.ContainsAny(err.Error(), "\u009b\u202e\n") {
			t.Errorf("error %q", err)
		}
	}
}
