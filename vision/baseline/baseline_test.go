package baseline

import (
	"encoding/json"
	"image"
	"os"
	"testing"

	"gocv.io/x/gocv"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
	"halocue/vision/ring"
	"halocue/vision/still"
)

const stars = "../../testdata/stars/"

// scene is a frame of known truth, as OpenCV takes it and as we do.
type scene struct {
	frame  *frame.Frame
	grey   gocv.Mat
	meter  *ring.Meter
	offset r2.Vec // true, px
	radius float64
}

// clean returns the frames that nothing is wrong with.
func clean(b testing.TB) []scene {
	b.Helper()
	raw, err := os.ReadFile(stars + "truth.json")
	if err != nil {
		b.Fatal(err)
	}
	var all []struct {
		Kind      string
		Files     []string
		Aperture  float64    `json:"aperture_mm"`
		Focal     float64    `json:"focal_length_mm"`
		Secondary float64    `json:"secondary_mm"`
		PixelUM   float64    `json:"pixel_um"`
		Offset    [2]float64 `json:"offset_px"`
		Radius    float64    `json:"ring_r_px"`
	}
	if err := json.Unmarshal(raw, &all); err != nil {
		b.Fatal(err)
	}
	var list []scene
	for _, s := range all {
		if s.Kind != "clean" {
			continue
		}
		f, err := still.ReadFile(stars + s.Files[0])
		if err != nil {
			b.Fatal(err)
		}
		grey, err := gocv.NewMatFromBytes(f.Height, f.Width, gocv.MatTypeCV8U, eightBits(f))
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { grey.Close() })
		list = append(list, scene{f, grey, ring.NewMeter(ring.Config{
			Telescope: optics.Telescope{Aperture: s.Aperture, FocalLength: s.Focal, Secondary: s.Secondary},
			PixelMM:   s.PixelUM / 1000,
		}), r2.Vec{X: s.Offset[0], Y: s.Offset[1]}, s.Radius})
	}
	if len(list) == 0 {
		b.Fatal("no clean frames")
	}
	return list
}

// eightBits stretches a frame to 8 bits, which is all that Hough circles take.
func eightBits(f *frame.Frame) []byte {
	top := float32(1)
	for _, v := range f.Pix {
		top = max(top, v)
	}
	out := make([]byte, len(f.Pix))
	for i, v := range f.Pix {
		out[i] = byte(255 * v / top)
	}
	return out
}

// track is ours, from frame to frame.
func track(s *scene) (r2.Vec, bool) {
	m := s.meter.Track(s.frame)
	return m.Offset, m.Found
}

// hough is a pair of OpenCV's Hough circles, told the true radii to 20 %, in a
// picture smoothed as its manual advises. The shadow is the best circle of its
// size with its centre in the ring's inner half.
func hough(s *scene) (r2.Vec, bool) {
	soft, circles := gocv.NewMat(), gocv.NewMat()
	defer soft.Close()
	defer circles.Close()
	if gocv.GaussianBlur(s.grey, &soft, image.Pt(5, 5), 1.5, 1.5, gocv.BorderDefault) != nil {
		return r2.Vec{}, false
	}
	var at [2]r2.Vec
	for i, r := range []float64{s.radius, 0.27 * s.radius} {
		err := gocv.HoughCirclesWithParams(soft, &circles, gocv.HoughGradient, 1, 2, 60, 30, int(0.8*r), int(1.2*r)+1)
		if err != nil || circles.Empty() {
			return r2.Vec{}, false
		}
		found := false
		for k := 0; k < circles.Cols() && !found; k++ {
			v := circles.GetVecfAt(0, k)
			at[i] = r2.Vec{X: float64(v[0]), Y: float64(v[1])}
			found = i == 0 || r2.Norm(r2.Sub(at[1], at[0])) < 0.5*s.radius
		}
		if !found {
			return r2.Vec{}, false
		}
	}
	return r2.Sub(at[1], at[0]), true
}

// ellipses is OpenCV's Otsu threshold, its contours, and an ellipse through the
// longest one and through the longest one inside that.
func ellipses(s *scene) (r2.Vec, bool) {
	lit, tree := gocv.NewMat(), gocv.NewMat()
	defer lit.Close()
	defer tree.Close()
	gocv.Threshold(s.grey, &lit, 0, 255, gocv.ThresholdBinary|gocv.ThresholdOtsu)
	contours := gocv.FindContoursWithParams(lit, &tree, gocv.RetrievalCComp, gocv.ChainApproxNone)
	defer contours.Close()
	outer, inner := -1, -1
	longest := func(best *int, i int) {
		if *best < 0 || contours.At(i).Size() > contours.At(*best).Size() {
			*best = i
		}
	}
	parent := func(i int) int { return int(tree.GetVeciAt(0, i)[3]) }
	for i := range contours.Size() {
		if parent(i) < 0 {
			longest(&outer, i)
		}
	}
	for i := range contours.Size() {
		if outer >= 0 && parent(i) == outer {
			longest(&inner, i)
		}
	}
	if inner < 0 || contours.At(inner).Size() < 5 {
		return r2.Vec{}, false
	}
	return r2.Sub(centre(contours.At(inner)), centre(contours.At(outer))), true
}

// fine is what a contour is magnified by for gocv, which rounds centres to whole
// pixels: the ellipse's own accuracy is kept.
const fine = 1000

// centre is that of OpenCV's fitEllipse, px.
func centre(contour gocv.PointVector) r2.Vec {
	points := contour.ToPoints()
	for i := range points {
		points[i] = points[i].Mul(fine)
	}
	large := gocv.NewPointVectorFromPoints(points)
	defer large.Close()
	c := gocv.FitEllipse(large).Center
	return r2.Vec{X: float64(c.X) / fine, Y: float64(c.Y) / fine}
}
