package nights

import (
	"fmt"
	"image/color"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
)

// group is the nights of one frame size.
type group struct {
	size string
	rs   []Result
}

// draw plots what share of the nights was over after how many seconds.
func draw(path string, groups []group) error {
	p := plot.New()
	p.Title.Text = "Nights that have ended true, or as good as the air allows"
	p.X.Label.Text = "seconds"
	p.Y.Label.Text = "per cent of the nights"
	p.X.Max, p.Y.Max = 240, 100
	p.Legend.Left, p.Legend.Top = false, false
	p.Add(plotter.NewGrid())
	colours := []color.Color{color.RGBA{B: 160, A: 255}, color.RGBA{R: 190, G: 80, A: 255}, color.Black}
	for i, g := range groups {
		var ends []float64
		for _, r := range g.rs {
			if r.Result != "" && !r.False {
				ends = append(ends, r.Seconds)
			}
		}
		slices.Sort(ends)
		pts := make(plotter.XYs, len(ends))
		for j, s := range ends {
			pts[j] = plotter.XY{X: s, Y: 100 * float64(j+1) / float64(len(g.rs))}
		}
		line, err := plotter.NewLine(pts)
		if err != nil {
			return fmt.Errorf("plotting the nights of %s: %w", g.size, err)
		}
		line.Color, line.Width = colours[i%len(colours)], vg.Points(1.5)
		if i > 0 {
			line.Dashes = []vg.Length{vg.Points(6), vg.Points(3)}
		}
		p.Add(line)
		p.Legend.Add(g.size, line)
	}
	if err := p.Save(16*vg.Centimeter, 9*vg.Centimeter, path); err != nil {
		return fmt.Errorf("writing the plot: %w", err)
	}
	return nil
}
