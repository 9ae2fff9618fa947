package still

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"halocue/vision/frame"
)

// A part is laid over the whole frame that it was cut from, where its name says; one that
// would reach beyond it is refused.
func TestPartIsLaidOverItsWhole(t *testing.T) {
	dir := t.TempDir()
	write := func(file string, w, h int, value byte) string {
		data := unitOf(bytes.Repeat([]byte{value}, w*h), fmt.Sprintf("SIMPLE  = %20s", "T"), "BITPIX  =                    8", "NAXIS   =                    2",
			fmt.Sprintf("NAXIS1  = %20d", w), fmt.Sprintf("NAXIS2  = %20d", h))
		path := filepath.Join(dir, file)
		if err := os.WriteFile(path, gzipped(string(data)), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write("000001.fits.gz", 8, 6, 10)
	for at, fits := range map[[2]int]bool{{4, 2}: true, {0, 0}: true, {4, 4}: true, {5, 2}: false, {4, 5}: false} {
		path := write(fmt.Sprintf("000002-in-000001+%d+%d.fits.gz", at[0], at[1]), 4, 2, 200)
		var f frame.Frame
		err := new(Reader).ReadInto(&f, path)
		if (err == nil) != fits {
			t.Errorf("a part at %v: %v", at, err)
		}
		if err != nil {
			continue
		}
		for i, v := range f.Pix {
			x, y, want := i%8, i/8, float32(10)
			if x >= at[0] && x < at[0]+4 && y >= at[1] && y < at[1]+2 {
				want = 200
			}
			if v != want {
				t.Fatalf("a part at %v: pixel %d, %d is %g", at, x, y, v)
			}
		}
	}
}
