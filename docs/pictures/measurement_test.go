package pictures

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"halocue/internal/simulate/telescope"
	"halocue/vision/frame"
	meter "halocue/vision/ring"
)

// light plots the errors of both measurements against the light of the star: RMS
// over a few looks at one ring in still air, in tolerances.
func light(path string) error {
	const looks = 6
	var fit, outline plotter.XYs
	for _, electrons := range []float64{1e5, 3e5, 1e6, 3e6} {
		var sums [2]float64
		for seed := range uint64(looks) {
			n := telescope.Demo(seed)
			n.Exact = true
			n.Sky.Seeing, n.Mount, n.Spider = 0, telescope.Mount{}, telescope.Spider{}
			n.Camera.Width, n.Camera.Height, n.Camera.Bits, n.Camera.Read = side, side, 16, 2
			n.Axis, n.Star = r2.Vec{X: -0.9, Y: 0.5}, r2.Vec{X: 0.02, Y: -0.013}
			n.Z *= 70 / n.RadiusPX(n.Z)
			n.Sky.Flux, n.Sky.Back, n.Camera.FullWell = electrons, 3, 1000
			tel, f := telescope.New(n), &frame.Frame{}
			tr := tel.Truth()
			tel.Render(f)
			truth := n.Telescope.Offset(tr.Star, tr.Axis, tr.Silhouette, tr.Z)
			unit := n.Telescope.Tolerance() * n.Telescope.OffsetPerField()
			m := meter.NewMeter(meter.Config{Telescope: n.Telescope, PixelMM: n.Camera.Pixel})
			for i, got := range []meter.Measurement{m.Measure(f), m.Track(f)} {
				if !got.Found {
					return fmt.Errorf("a star of %g electrons gives no ring: %s", electrons, got.Why)
				}
				sums[i] += r2.Norm2(r2.Scale(1/unit, r2.Sub(r2.Scale(n.Camera.Pixel, got.Offset), truth))) / (2 * looks)
			}
		}
		fit = append(fit, plotter.XY{X: electrons, Y: math.Sqrt(sums[0])})
		outline = append(outline, plotter.XY{X: electrons, Y: math.Sqrt(sums[1])})
	}
	p := plot.New()
	p.X.Label.Text, p.Y.Label.Text = "electrons from the star", "error, tolerances"
	p.X.Scale, p.Y.Scale = plot.LogScale{}, plot.LogScale{}
	p.X.Tick.Marker, p.Y.Tick.Marker = plot.LogTicks{Prec: -1}, plot.LogTicks{Prec: -1}
	p.X.Max, p.Y.Max = 3.5e6, 0.3
	p.Legend.Left, p.Legend.XOffs, p.Legend.Padding = true, vg.Points(12), vg.Points(3)
	for i, xy := range []plotter.XYs{fit, outline} {
		l, err := plotter.NewLine(xy)
		if err != nil {
			return fmt.Errorf("drawing a line: %w", err)
		}
		l.Width, l.Color = vg.Points(2), []color.Color{color.RGBA{R: 200, G: 80, A: 255}, color.RGBA{B: 160, A: 255}}[i]
		p.Add(l)
		p.Legend.Add([]string{"Measure: fit of a rendered star", "Track: corrected outlines"}[i], l)
	}
	if err := p.Save(16*vg.Centimeter, 9*vg.Centimeter, path); err != nil {
		return fmt.Errorf("writing the plot: %w", err)
	}
	return nil
}
