package ring

import (
	"runtime"
	"testing"

	"halocue/vision/frame"
)

// Of a large frame that is bright all over, the bright pixels take as much room as the
// frame, and not more.
func TestRoomForABrightFrame(t *testing.T) {
	f := frame.New(2400, 2400)
	for i := range f.Pix {
		f.Pix[i] = 100
	}
	var b binned
	b.make(f)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	lit := b.bright(f)
	runtime.ReadMemStats(&after)
	if len(lit) != len(f.Pix) {
		t.Errorf("%d of %d pixels are bright", len(lit), len(f.Pix))
	}
	if took, most := after.TotalAlloc-before.TotalAlloc, uint64(4*len(f.Pix)*11/10); took > most {
		t.Errorf("it took %d bytes, more than %d", took, most)
	}
}
