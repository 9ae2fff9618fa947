package report

import (
	"bytes"
	"fmt"
	"html"
	"html/template"
	"image/color"
	"math"
	"strings"

	"halocue/internal/optics"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The colours differ in lightness as well as in hue.
var (
	blue  = color.RGBA{R: 0x10, G: 0x50, B: 0xa0, A: 255}
	amber = color.RGBA{R: 0xb0, G: 0x60, B: 0x00, A: 255}
)

// clock returns the hour on a clock face of a direction with y down.
func clock(x, y float64) int {
	hour := int(math.Round(math.Atan2(x, -y)/(2*math.Pi)*12+12)) % 12
	if hour == 0 {
		return 12
	}
	return hour
}

// pathPlot draws the axis point's way into the circle of the tolerance. Up is up
// in the frame.
func (n *Night) pathPlot() (template.HTML, error) {
	p := plot.New()
	p.X.Label.Text, p.Y.Label.Text = "mm, right in the frame", "mm, up in the frame"
	way := make(plotter.XYs, len(n.Path))
	reach := n.ToleranceMM
	for i, q := range n.Path {
		way[i] = plotter.XY{X: q.X, Y: -q.Y}
		reach = max(reach, math.Hypot(q.X, q.Y))
	}
	circle := make(plotter.XYs, 73)
	for i := range circle {
		sin, cos := math.Sincos(float64(i) * math.Pi / 36)
		circle[i] = plotter.XY{X: n.ToleranceMM * cos, Y: n.ToleranceMM * sin}
	}
	ends, err := plotter.NewScatter(plotter.XYs{way[0], way[len(way)-1]})
	if err != nil {
		return "", err
	}
	ends.GlyphStyleFunc = func(i int) draw.GlyphStyle {
		shape := []draw.GlyphDrawer{draw.SquareGlyph{}, draw.CircleGlyph{}}[i]
		return draw.GlyphStyle{Color: amber, Radius: vg.Points(4), Shape: shape}
	}
	if err := lines(p, line{way, blue, nil}, line{circle, color.Black, dashes}); err != nil {
		return "", err
	}
	p.Add(ends)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = -1.1*reach, 1.1*reach, -1.1*reach, 1.1*reach
	first, last := n.First(), n.Last()
	return svg(p, 12, 12, "path", "The axis point's way to the target",
		fmt.Sprintf("It begins %.2f mm from the target, toward %d o'clock in the frame, at the square, and ends %.2f mm from it at the dot. The dashed circle, %.2f mm, is the tolerance.",
			math.Hypot(first.X, first.Y), clock(first.X, first.Y), math.Hypot(last.X, last.Y), n.ToleranceMM))
}

// comaPlot draws the coma against time.
func (n *Night) comaPlot() (template.HTML, error) {
	p := plot.New()
	p.X.Label.Text, p.Y.Label.Text = "seconds", "coma, waves RMS"
	coma := make(plotter.XYs, len(n.Path))
	most := *n.First()
	for i, q := range n.Path {
		coma[i] = plotter.XY{X: q.T, Y: q.Waves}
		if q.Waves > most.Waves {
			most = q
		}
	}
	edge := plotter.XYs{{X: coma[0].X, Y: optics.ToleranceRMS}, {X: coma[len(coma)-1].X, Y: optics.ToleranceRMS}}
	if err := lines(p, line{coma, blue, nil}, line{edge, color.Black, dashes}); err != nil {
		return "", err
	}
	p.Y.Min = 0
	return svg(p, 16, 8, "coma", "Coma against time",
		fmt.Sprintf("From %.3f waves RMS at %.0f s to %.3f at %.0f s; at most %.3f, at %.0f s. The dashed line, %.4f, is the diffraction tolerance.",
			n.First().Waves, n.First().T, n.Last().Waves, n.Last().T, most.Waves, most.T, optics.ToleranceRMS))
}

// airPlot draws the seeing against time, or nothing where it was never known.
func (n *Night) airPlot() (template.HTML, error) {
	var air plotter.XYs
	for _, q := range n.Path {
		if q.R0 > 0 {
			air = append(air, plotter.XY{X: q.T, Y: seeing(q.R0)})
		}
	}
	if len(air) < 2 {
		return "", nil
	}
	p := plot.New()
	p.X.Label.Text, p.Y.Label.Text = "seconds", "seeing, arcseconds"
	if err := lines(p, line{air, amber, nil}); err != nil {
		return "", err
	}
	low, high := air[0].Y, air[0].Y
	for _, q := range air {
		low, high = min(low, q.Y), max(high, q.Y)
	}
	p.Y.Min, p.Y.Max = 0, 1.1*high
	return svg(p, 16, 6, "air", "Seeing against time", fmt.Sprintf("Between %.1f and %.1f arcseconds.", low, high))
}

// seeing returns the long-exposure width, arcsec, of a Fried parameter in mm:
// 0.98 lambda / r0 (Fried 1966; from memory).
func seeing(r0 float64) float64 { return 0.98 * optics.Wavelength / r0 * 180 / math.Pi * 3600 }

type line struct {
	points plotter.XYs
	colour color.Color
	dashes []vg.Length
}

var dashes = []vg.Length{vg.Points(5), vg.Points(3)}

func lines(p *plot.Plot, list ...line) error {
	for _, l := range list {
		drawn, err := plotter.NewLine(l.points)
		if err != nil {
			return fmt.Errorf("drawing a line: %w", err)
		}
		drawn.Color, drawn.Dashes, drawn.Width = l.colour, l.dashes, vg.Points(1.5)
		p.Add(drawn)
	}
	return nil
}

// svg returns the plot as an element of a page, with a title and a description
// for those who do not see it. Sizes are cm.
func svg(p *plot.Plot, width, height float64, id, title, description string) (template.HTML, error) {
	c := vgsvg.New(vg.Length(width)*vg.Centimeter, vg.Length(height)*vg.Centimeter)
	p.Draw(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return "", fmt.Errorf("drawing %s: %w", title, err)
	}
	_, element, found := strings.Cut(b.String(), "<svg ")
	attributes, inside, closed := strings.Cut(element, ">")
	if !found || !closed {
		return "", fmt.Errorf("drawing %s: the chart is no SVG", title)
	}
	//nolint:gosec // the chart library escapes its texts, and the rest is ours
	return template.HTML(fmt.Sprintf(`<svg role="img" aria-labelledby="%[1]s-title %[1]s-desc" %[2]s><title id="%[1]s-title">%[3]s</title><desc id="%[1]s-desc">%[4]s</desc>%[5]s`,
		id, attributes, html.EscapeString(title), html.EscapeString(description), inside)), nil
}
