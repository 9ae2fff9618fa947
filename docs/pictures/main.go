// Pictures draws the pictures of README.md from the virtual telescope: a ring out
// of true and in true, and one collimation against time.
package main

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"

	"halocue/internal/coach"
	"halocue/internal/coach/nights"
	"halocue/internal/frame"
	"halocue/internal/virtual"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "pictures:", err)
		os.Exit(1)
	}
}

func run() error {
	if len(os.Args) != 2 {
		return errors.New("name the folder to write to")
	}
	if err := ring(filepath.Join(os.Args[1], "ring.png")); err != nil {
		return fmt.Errorf("drawing the ring: %w", err)
	}
	if err := collimation(filepath.Join(os.Args[1], "collimation.svg")); err != nil {
		return fmt.Errorf("plotting the collimation: %w", err)
	}
	if err := light(filepath.Join(os.Args[1], "measurement.svg")); err != nil {
		return fmt.Errorf("plotting errors against light: %w", err)
	}
	return nil
}

const side = 300 // px of each half of the picture

// ring writes one star twice: axis point 7 mm off on the left, in true on the right.
func ring(path string) error {
	both := image.NewGray(image.Rect(0, 0, 2*side+10, side))
	for i, axis := range []r2.Vec{{X: 6, Y: -3.6}, {}} {
		night := virtual.Demo(1)
		night.Axis, night.Star, night.XSec = axis, r2.Vec{}, r2.Vec{}
		night.Camera.Width, night.Camera.Height = side, side
		night.Z *= 0.4 * side / night.RadiusPX(night.Z)
		night.Sky.Seeing = 1.5
		f := frame.New(side, side)
		virtual.New(night).Render(f)
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

// collimation writes how far the mirror was out of true while it was guided.
func collimation(path string) error {
	const seed = 4
	var truth, belief plotter.XYs
	watch := func(v virtual.View, is virtual.Truth, a coach.Advice) {
		truth = append(truth, plotter.XY{X: v.T, Y: r2.Norm(is.Axis)})
		if a.Belief.Known {
			belief = append(belief, plotter.XY{X: v.T, Y: a.Belief.Ratio})
		}
	}
	night, err := nights.Run(seed, nights.Options{Draw: virtual.Options{MinAxis: 4, MaxAxis: 6}}, watch)
	if err != nil {
		return err
	}
	for i := range truth {
		truth[i].Y /= night.Night.Telescope.Tolerance()
	}
	p := plot.New()
	p.Title.Text = "One night of the virtual telescope"
	p.X.Label.Text, p.Y.Label.Text = "seconds", "out of true, in tolerances"
	edge := plotter.NewFunction(func(float64) float64 { return 1 })
	edge.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
	is, err := plotter.NewLine(truth)
	if err != nil {
		return err
	}
	is.Width = vg.Points(2)
	thought, err := plotter.NewLine(belief)
	if err != nil {
		return err
	}
	thought.Color = color.RGBA{R: 200, G: 80, A: 255}
	p.Add(is, thought, edge)
	p.Legend.Add("the mirror", is)
	p.Legend.Add("what halocue believes", thought)
	p.Legend.Add("diffraction tolerance", edge)
	p.Legend.Top = true
	p.Legend.Left, p.Legend.XOffs = true, 8*vg.Centimeter
	p.Y.Min, p.Y.Max = 0, 1.1*p.Y.Max
	return p.Save(16*vg.Centimeter, 9*vg.Centimeter, path)
}
