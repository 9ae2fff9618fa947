package size

import (
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
)

func read(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Sound pictures pass, and none of their beginnings makes it fail otherwise than by an error.
func TestSoundOnes(t *testing.T) {
	check := map[string]func([]byte) error{".png": PNG, ".tif": TIFF, ".jpg": func(b []byte) error { _, _, err := JPEG(b); return err }}
	for _, name := range []string{"grey8.png", "grey16.png", "colour.png", "colour16.png", "grey8.jpg", "colour.jpg", "grey8.tif", "grey16.tif", "colour.tif"} {
		data, look := read(t, name), check[filepath.Ext(name)]
		if err := look(append([]byte(nil), data...)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for n := range min(len(data), 600) {
			if err := look(append([]byte(nil), data[:n]...)); err == nil && n < 33 {
				t.Errorf("%s: the first %d bytes pass", name, n)
			}
		}
	}
}

func TestBounds(t *testing.T) {
	for _, c := range []struct {
		w, h int
		ok   bool
	}{{1, 1, true}, {0, 1, false}, {1, -1, false}, {6248, 4176, true}, {MaxPixels, 1, true}, {MaxPixels + 1, 1, false}, {1 << 30, 1 << 30, false}} {
		if err := Check(c.w, c.h); (err == nil) != c.ok {
			t.Errorf("%d x %d: %v", c.w, c.h, err)
		}
	}
	if err := Memory(10<<20, 6000, 5000, 4); err == nil {
		t.Error("250 MB pass")
	}
	if err := Memory(60<<20, 6248, 4176, 0); err != nil {
		t.Errorf("a camera of 26 million pixels: %v", err)
	}
}

// A strip that unpacks to more than the header says is refused.
func TestStripThatGrows(t *testing.T) {
	strip := []byte{0x78, 0x9c, 0xed, 0xc1, 0x01, 0x01, 0, 0, 0, 0x80, 0x90, 0xfe, 0xaf, 0xee, 0x08, 0x0a} // 32,768 zeros and more
	data := make([]byte, 200, 300)
	copy(data, "II*\x00\x08\x00\x00\x00")
	entries := [][3]uint32{ // tag, type, value
		{256, 4, 5000}, {257, 4, 5000}, {258, 3, 8}, {259, 3, 8}, {273, 4, 200}, {278, 4, 5000}, {279, 4, uint32(len(strip))},
	}
	binary.LittleEndian.PutUint16(data[8:], uint16(len(entries)))
	for i, e := range entries {
		p := data[10+12*i:]
		binary.LittleEndian.PutUint16(p, uint16(e[0]))
		binary.LittleEndian.PutUint16(p[2:], uint16(e[1]))
		binary.LittleEndian.PutUint32(p[4:], 1)
		binary.LittleEndian.PutUint32(p[8:], e[2])
	}
	data = append(data, strip...)
	if err := TIFF(data); err != nil {
		t.Errorf("a short strip is for the decoder to refuse, not for its size: %v", err)
	}
	d, err := openTIFF(data)
	if err != nil {
		t.Fatal(err)
	}
	if err := d.blocks(tagOffsets, tagCounts, 8, 100); err == nil {
		t.Error("more than 100 bytes pass")
	}
}

// What is sent may be half as large as what is in a file.
func TestLive(t *testing.T) {
	for _, c := range []struct {
		w, h int
		ok   bool
	}{{4656, 3520, true}, {MaxLive, 1, true}, {6248, 4176, false}, {0, 5, false}, {1 << 40, 1 << 40, false}} {
		if err := Live(c.w, c.h); (err == nil) != c.ok {
			t.Errorf("%d x %d: %v", c.w, c.h, err)
		}
	}
	if err := Check(6248, 4176); err != nil {
		t.Errorf("a still camera's 26 million pixels: %v", err)
	}
}
