//go:build matprofile

package camera

import (
	"bytes"
	"testing"

	"gocv.io/x/gocv"
)

// Every OpenCV matrix is given back: run with -tags matprofile besides the usual.
func TestNoMatrixLeft(t *testing.T) {
	before := gocv.MatProfile.Count()
	for range 3 {
		s := open(t, video(t, "a.mkv", "-c:v", "ffv1"), Options{Frames: true})
		brightness(t, s)
		if gocv.MatProfile.Count() <= before {
			t.Error("the count does not count")
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if n := gocv.MatProfile.Count() - before; n != 0 {
		var b bytes.Buffer
		gocv.MatProfile.WriteTo(&b, 1)
		t.Errorf("%d matrices left:\n%s", n, b.String())
	}
}
