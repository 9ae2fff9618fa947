package report

import (
	"bytes"
	"cmp"
	"fmt"
	"html"
	"html/template"
	"image/color"
	"math"
	"slices"
	"strconv"
	"strings"

	"halocue/internal/optics"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The colours stand for those of the page's look, which svg puts in their place.
var (
	ink  = color.RGBA{R: 1, A: 255}
	blue = color.RGBA{R: 2, A: 255}
	mark = color.RGBA{R: 3, A: 255}
	band = color.RGBA{R: 4, A: 255}
	edge = color.RGBA{R: 5, A: 255}
	bare = color.RGBA{R: 6, A: 255}

	looks = strings.NewReplacer("#010000", "var(--ink)", "#020000", "var(--line)", "#030000", "var(--mark)", "#040000", "var(--band)", "#050000", "var(--edge)", "#060000", "var(--page)")
)

// clock returns the hour on a clock face of a direction with y down.
func clock(x, y float64) int {
	hour := int(math.Round(math.Atan2(x, -y)/(2*math.Pi)*12+12)) % 12
	if hour == 0 {
		return 12
	}
	return hour
}

// newPlot is an empty plot in the page's colours, with the numbers of its axes as the
// language writes them.
func (w *words) newPlot(x, y string) *chart {
	p := &chart{Plot: plot.New()}
	p.BackgroundColor = nil
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.LineStyle.Color, a.Tick.LineStyle.Color, a.Tick.Label.Color, a.Label.TextStyle.Color = edge, edge, ink, ink
		for _, s := range []*text.Style{&a.Tick.Label, &a.Label.TextStyle} {
			s.Font.Variant, s.Font.Size = "Sans", 12
		}
		a.Tick.Marker = w.ticks(math.Inf(-1))
	}
	p.X.Label.Text, p.Y.Label.Text = x, y
	return p
}

// ticks are the usual ones, none below from.
func (w *words) ticks(from float64, more ...plot.Tick) plot.Ticker {
	return plot.TickerFunc(func(low, high float64) []plot.Tick {
		list := more
		for _, t := range (plot.DefaultTicks{}).Ticks(max(low, from), high) {
			if t.Label != "" {
				_, decimals, _ := strings.Cut(strconv.FormatFloat(math.Round(t.Value*1e6)/1e6, 'f', -1, 64), ".")
				t.Label = w.num(t.Value, len(decimals))
			}
			if t.Value >= from {
				list = append(list, t)
			}
		}
		return list
	})
}

// marked are the rows of marks below the time chart, by what was asked for.
var marked = []struct {
	id      string
	actions []string
	glyph   draw.GlyphDrawer
}{
	{"turn", []string{"turn", "half-turn"}, draw.PyramidGlyph{}},
	{"push", []string{"recentre"}, draw.CircleGlyph{}},
	{"rack", []string{"defocus", "other-side"}, draw.BoxGlyph{}},
}

// timePlot draws how far off the mirror was against time, as a line in the band of what
// it may have been, and below it what the hands were asked for.
func (n *Night) timePlot() (template.HTML, error) {
	w, known := n.words, n.known()
	unit, name := n.clock()
	p := w.newPlot(name, w.say("axis.off"))
	top := 1.5
	for _, q := range known {
		top = max(top, 1.25*q.Ratio, min(q.Bound*1.05, 1.8*q.Ratio))
	}
	to := n.Seconds / unit
	var line, upper plotter.XYs
	var lower plotter.XYs
	for _, q := range known {
		line = append(line, plotter.XY{X: q.T / unit, Y: q.Ratio})
		upper = append(upper, plotter.XY{X: q.T / unit, Y: min(q.Ratio+q.error(), top)})
		lower = append(lower, plotter.XY{X: q.T / unit, Y: max(q.Ratio-q.error(), 0)})
	}
	area := append(plotter.XYs{}, upper...)
	for i := len(lower) - 1; i >= 0; i-- {
		area = append(area, lower[i])
	}
	p.fill(area)
	tolerance := plotter.XYs{{X: 0, Y: 1}, {X: to, Y: 1}}
	p.lines(curve{upper, edge, nil, 0.75}, curve{lower, edge, nil, 0.75}, curve{tolerance, ink, dashes, 1}, curve{line, blue, nil, 2})
	rows := n.marks(p, top, unit)
	last := known[len(known)-1]
	p.dot(plotter.XY{X: last.T / unit, Y: last.Ratio}, draw.CircleGlyph{}, 4)
	result := w.say("time.result", facts{"Ratio": w.num(last.Ratio, 2), "Bound": w.num(up(last.Bound), 2)})
	p.label(plotter.XY{X: 0.92 * to, Y: 0.95 * top}, result, draw.XRight)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, to*1.02, -0.34*top, top
	p.Y.Tick.Marker = w.ticks(0, rows...)
	first := known[0]
	counts := n.counts()
	return p.svg(14.5, 9.5, "time", w.say("time.title"), w.say("time.alt", facts{
		"From": w.num(first.Ratio, 1), "T0": w.num(first.T, 0), "To": w.num(last.Ratio, 1), "T1": w.num(last.T, 0), "Bound": w.num(up(last.Bound), 2),
		"Turns": counts["turn"], "Pushes": counts["push"], "Racks": counts["rack"],
	}))
}

// counts is how often each kind of mark was asked for.
func (n *Night) counts() map[string]int {
	count := map[string]int{}
	for _, e := range n.said() {
		count[e.row]++
	}
	return count
}

// mostLines is how many turns have a line through the chart.
const mostLines = 20

// clock returns the unit of the time charts, s, and its name: a long night has minutes.
func (n *Night) clock() (unit float64, name string) {
	if n.Seconds <= 300 {
		return 1, n.words.say("axis.seconds")
	}
	return 60, strings.TrimSpace(n.words.plural("minutes", 2, facts{"N": ""}))
}

// marks draws the rows of marks, numbered as the list beside them is where there is room,
// and returns the names of the rows as ticks.
func (n *Night) marks(p *chart, top, unit float64) (names []plot.Tick) {
	for i, kind := range marked {
		y := -top * (0.07 + 0.105*float64(i))
		names = append(names, plot.Tick{Value: y, Label: n.words.say("mark." + kind.id)})
		row := slices.DeleteFunc(n.said(), func(c cue) bool { return c.row != kind.id })
		for i, e := range row {
			at := plotter.XY{X: e.T / unit, Y: y}
			if kind.id == "turn" && len(row) <= mostLines {
				p.lines(curve{plotter.XYs{at, {X: at.X, Y: top}}, edge, []vg.Length{1, 3}, 0.5})
			}
			p.dot(at, kind.glyph, 2.6)
			if i+1 < len(row) && row[i+1].T-e.T < 0.06*n.Seconds {
				continue // no room for its number
			}
			p.label(plotter.XY{X: at.X + 0.008*n.Seconds/unit, Y: y}, fmt.Sprint(e.Number), draw.XLeft)
		}
	}
	return names
}

// cue is something that the hands were asked for.
type cue struct {
	Event
	Number int
	row    string
}

// said lists what the hands were asked for, and the end.
func (n *Night) said() (list []cue) {
	for _, e := range n.Events {
		row := map[string]string{"done": "done"}[e.Action]
		for _, m := range marked {
			for _, action := range m.actions {
				if e.Action == action {
					row = m.id
				}
			}
		}
		if row != "" {
			list = append(list, cue{e, len(list) + 1, row})
		}
	}
	return list
}

// wayPlot draws the axis point's way into the disc of the tolerance. Up is up in the
// frame.
func (n *Night) wayPlot() (template.HTML, error) {
	w, known := n.words, n.known()
	p := w.newPlot(w.say("axis.right"), w.say("axis.up"))
	way := make(plotter.XYs, len(known))
	reach := n.ToleranceMM
	for i, q := range known {
		way[i] = plotter.XY{X: q.X, Y: -q.Y}
		reach = max(reach, math.Hypot(q.X, q.Y))
	}
	disc := make(plotter.XYs, 73)
	for i := range disc {
		sin, cos := math.Sincos(float64(i) * math.Pi / 36)
		disc[i] = plotter.XY{X: n.ToleranceMM * cos, Y: n.ToleranceMM * sin}
	}
	p.fill(disc)
	p.lines(curve{disc, edge, nil, 1}, curve{way, blue, nil, 1.5})
	first, last := known[0], known[len(known)-1]
	for _, e := range []struct {
		at    plotter.XY
		glyph draw.GlyphDrawer
		id    string
	}{{way[0], draw.RingGlyph{}, "start"}, {way[len(way)-1], draw.CircleGlyph{}, "end"}} {
		side := 1.0
		align := draw.XLeft
		if e.at.X > 0 {
			side, align = -1, draw.XRight
		}
		p.dot(e.at, e.glyph, 5.5)
		p.label(plotter.XY{X: e.at.X + side*0.08*reach, Y: e.at.Y}, w.say("mark."+e.id), align)
	}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = -1.15*reach, 1.15*reach, -1.15*reach, 1.15*reach
	return p.svg(9, 9, "way", w.say("way.title"), w.say("way.alt", facts{
		"From": w.num(math.Hypot(first.X, first.Y), 2), "Hour": clock(first.X, first.Y), "To": w.num(math.Hypot(last.X, last.Y), 2), "Tolerance": w.num(n.ToleranceMM, 2),
	}))
}

// airPlot draws the seeing against time, or nothing where it was never known.
func (n *Night) airPlot() (template.HTML, error) {
	var air plotter.XYs
	unit, name := n.clock()
	for _, q := range n.Path {
		if q.R0 > 0 {
			air = append(air, plotter.XY{X: q.T / unit, Y: seeing(q.R0)})
		}
	}
	if len(air) < 2 {
		return "", nil
	}
	w := n.words
	p := w.newPlot(name, w.say("axis.seeing"))
	p.lines(curve{air, mark, nil, 2})
	low, high := air[0].Y, air[0].Y
	for _, q := range air {
		low, high = min(low, q.Y), max(high, q.Y)
	}
	p.X.Min, p.Y.Min, p.Y.Max = 0, 0, 1.2*high
	return p.svg(9, 6.5, "air", w.say("air.title"), w.say("air.alt", facts{"Low": w.num(low, 1), "High": w.num(high, 1)}))
}

// seeing returns the long-exposure width, arcsec, of a Fried parameter in mm:
// 0.98 lambda / r0 (Fried 1966; from memory).
func seeing(r0 float64) float64 { return 0.98 * optics.Wavelength / r0 * 180 / math.Pi * 3600 }

type curve struct {
	points plotter.XYs
	colour color.Color
	dashes []vg.Length
	width  float64 // points
}

var dashes = []vg.Length{vg.Points(5), vg.Points(3)}

// chart is a plot, and the first thing that could not be drawn on it.
type chart struct {
	*plot.Plot
	err error
}

// failed keeps the first error, and reports whether there is one.
func (p *chart) failed(err error) bool {
	p.err = cmp.Or(p.err, err)
	return p.err != nil
}

func (p *chart) lines(list ...curve) {
	for _, l := range list {
		drawn, err := plotter.NewLine(l.points)
		if p.failed(err) {
			return
		}
		drawn.Color, drawn.Dashes, drawn.Width = l.colour, l.dashes, vg.Points(l.width)
		p.Add(drawn)
	}
}

func (p *chart) fill(area plotter.XYs) {
	drawn, err := plotter.NewPolygon(area)
	if p.failed(err) {
		return
	}
	drawn.Color, drawn.LineStyle.Width = band, 0
	p.Add(drawn)
}

func (p *chart) dot(at plotter.XY, glyph draw.GlyphDrawer, radius float64) {
	drawn, err := plotter.NewScatter(plotter.XYs{at})
	if p.failed(err) {
		return
	}
	drawn.GlyphStyle = draw.GlyphStyle{Color: mark, Radius: vg.Points(radius), Shape: glyph}
	p.Add(drawn)
	if _, hollow := glyph.(draw.RingGlyph); hollow { // the library's ring is as thin as a hair
		inner := *drawn
		inner.GlyphStyle = draw.GlyphStyle{Color: bare, Radius: vg.Points(0.55 * radius), Shape: draw.CircleGlyph{}}
		drawn.GlyphStyle.Shape = draw.CircleGlyph{}
		p.Add(&inner)
	}
}

// label writes beside a mark.
func (p *chart) label(at plotter.XY, words string, x text.XAlignment) {
	drawn, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{at}, Labels: []string{words}})
	if p.failed(err) {
		return
	}
	s := &drawn.TextStyle[0]
	s.Color, s.XAlign, s.YAlign, s.Font.Variant, s.Font.Size = ink, x, draw.YCenter, "Sans", 11
	p.Add(drawn)
}

// svg returns the plot as an element of a page, with a title and a description
// for those who do not see it. Sizes are cm.
func (p *chart) svg(width, height float64, id, title, description string) (template.HTML, error) {
	c := vgsvg.New(vg.Length(width)*vg.Centimeter, vg.Length(height)*vg.Centimeter)
	p.Draw(draw.Crop(draw.New(c), 6, -12, 4, -6)) // a reader's font may be wider than the one that was measured
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); p.failed(err) {
		return "", fmt.Errorf("drawing %s: %w", title, p.err)
	}
	_, element, found := strings.Cut(b.String(), "<svg ")
	attributes, inside, closed := strings.Cut(element, ">")
	if !found || !closed {
		return "", fmt.Errorf("drawing %s: the chart is no SVG", title)
	}
	//nolint:gosec // the chart library escapes its texts, and the rest is ours
	return template.HTML(fmt.Sprintf(`<svg role="img" aria-labelledby="%[1]s-title %[1]s-desc" %[2]s><title id="%[1]s-title">%[3]s</title><desc id="%[1]s-desc">%[4]s</desc>%[5]s`,
		id, attributes, html.EscapeString(title), html.EscapeString(description), looks.Replace(inside))), nil
}
