package pictures

import (
	"bytes"
	"cmp"
	"errors"
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/simulate/nights"
	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

var update = flag.Bool("update", false, "write the pictures into docs")

// The ring that README.md shows is the one that is drawn now. The other pictures take long,
// and the collimation changes with each word of the coach: they are only drawn.
func TestRingIsAsDrawn(t *testing.T) {
	if *update {
		for name, draw := range map[string]func(string) error{"ring.png": ring, "measurement.svg": light, "collimation.svg": collimation} {
			if err := draw(filepath.Join("..", name)); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
		return
	}
	if runtime.GOARCH != "amd64" {
		t.Skip("other processors round otherwise")
	}
	drawn := filepath.Join(t.TempDir(), "ring.png")
	if err := ring(drawn); err != nil {
		t.Fatal(err)
	}
	a, errA := os.ReadFile("../ring.png")
	b, errB := os.ReadFile(drawn)
	if err := errors.Join(errA, errB); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Error("docs/ring.png is not what is drawn now: run make pictures")
	}
}

const side = 300 // px of each half of the picture

// ring writes one star twice: axis point 7 mm off on the left, in true on the right.
func ring(path string) error {
	both := image.NewGray(image.Rect(0, 0, 2*side+10, side))
	for i, axis := range []r2.Vec{{X: 6, Y: -3.6}, {}} {
		night := telescope.Demo(1)
		night.Axis, night.Star, night.XSec = axis, r2.Vec{}, r2.Vec{}
		night.Camera.Width, night.Camera.Height = side, side
		night.Z *= 0.4 * side / night.RadiusPX(night.Z)
		night.Sky.Seeing = 1.5
		f := frame.New(side, side)
		telescope.New(night).Render(f)
		paste(both, f, i*(side+10))
	}
	out, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(png.Encode(out, both), out.Close())
}

// paste puts a frame at x, its brightest part white.
func paste(to *image.Gray, f *frame.Frame, x int) {
	top := float32(0)
	for _, v := range f.Pix {
		top = max(top, v)
	}
	for i, v := range f.Pix {
		grey := 255 * math.Sqrt(float64(v/top))
		to.SetGray(x+i%f.Width, i/f.Width, color.Gray{Y: uint8(grey)})
	}
}

// watched is one night: how far out of true the mirror was, and what was known of it.
type watched struct {
	truth, estimate plotter.XYs
	upper, lower    plotter.XYs
}

// left is how far out of true the night left the mirror, tolerances.
func (w watched) left() float64 { return w.truth[len(w.truth)-1].Y }

// collimation writes how far the mirror was out of true while it was guided: of 21 nights
// that which left it neither better nor worse than most.
func collimation(path string) error {
	var all []watched
	for seed := uint64(1); seed <= 21; seed++ {
		w, err := watch(seed)
		if err != nil {
			return err
		}
		all = append(all, w)
	}
	slices.SortFunc(all, func(a, b watched) int { return cmp.Compare(a.left(), b.left()) })
	night := all[len(all)/2]
	p := plot.New()
	p.Title.Text = "One night of the virtual telescope"
	p.X.Label.Text, p.Y.Label.Text = "seconds", "out of true, in tolerances"
	top := 0.0
	for _, t := range night.truth {
		top = max(top, 1.5*t.Y)
	}
	area := slices.Clone(night.upper)
	for i := range area {
		area[i].Y = min(area[i].Y, top)
	}
	for _, q := range slices.Backward(night.lower) {
		area = append(area, q)
	}
	band, err := plotter.NewPolygon(area)
	if err != nil {
		return err
	}
	band.Color, band.LineStyle.Width = color.RGBA{R: 255, G: 224, B: 200, A: 255}, 0
	edge := plotter.NewFunction(func(float64) float64 { return 1 })
	edge.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
	is, err := plotter.NewLine(night.truth)
	if err != nil {
		return err
	}
	is.Width = vg.Points(2)
	thought, err := plotter.NewLine(night.estimate)
	if err != nil {
		return err
	}
	thought.Color, thought.Width = color.RGBA{R: 200, G: 80, A: 255}, vg.Points(1.5)
	p.Add(band, is, thought, edge)
	p.Legend.Add("the mirror", is)
	p.Legend.Add("the estimate, in its bounds", thought)
	p.Legend.Add("diffraction tolerance", edge)
	p.Legend.Top = true
	p.Legend.Left, p.Legend.XOffs = true, 7.5*vg.Centimeter
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1.03*p.X.Max, 0, top
	c := vgsvg.New(16*vg.Centimeter, 9*vg.Centimeter)
	p.Draw(draw.Crop(draw.New(c), 4, -14, 4, -4)) // the last number of an axis reaches beyond it
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	_, err = c.WriteTo(f)
	return errors.Join(err, f.Close())
}

// watch runs one night. The estimate begins where it is surer than the distance it
// speaks of.
func watch(seed uint64) (w watched, err error) {
	night, err := nights.Run(seed, nights.Options{Draw: nights.DrawOptions{MinAxis: 4, MaxAxis: 6}}, func(v observe.Sight, is telescope.Truth, a cue.Advice) {
		w.truth = append(w.truth, plotter.XY{X: v.T, Y: r2.Norm(is.Axis)})
		b := a.Estimate
		if e := b.Bound - b.Ratio; b.Known && (len(w.estimate) > 0 || e < max(1, b.Ratio)) {
			w.estimate = append(w.estimate, plotter.XY{X: v.T, Y: b.Ratio})
			w.upper = append(w.upper, plotter.XY{X: v.T, Y: b.Bound})
			w.lower = append(w.lower, plotter.XY{X: v.T, Y: max(b.Ratio-e, 0)})
		}
	})
	if err != nil {
		return w, err
	}
	for i := range w.truth {
		w.truth[i].Y /= night.Night.Telescope.Tolerance()
	}
	return w, nil
}
