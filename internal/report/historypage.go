package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg/draw"
)

//go:embed history.html
var historyText string

var historyPage = template.Must(template.New("history").Parse(historyText))

type figure struct {
	SVG     template.HTML
	Caption string
}

// telescopeSheet is one telescope on the page of the history.
type telescopeSheet struct {
	Name, Verdict string
	Figures       []figure
	Columns       []string
	Rows          [][]string
}

// WriteHistoryPage writes the histories as one page that needs no other file.
func WriteHistoryPage(out io.Writer, all []*History, l Look, version string) error {
	w, err := newWords("en")
	if len(all) > 0 {
		w, err = all[len(all)-1].words, nil
	}
	if err != nil {
		return err
	}
	data := struct {
		sheet
		Telescopes []telescopeSheet
	}{sheet: w.sheet(l, version)}
	for i, h := range all {
		t, err := h.sheet(fmt.Sprintf("telescope%d", i+1))
		if err != nil {
			return err
		}
		data.Telescopes = append(data.Telescopes, t)
	}
	return execute(historyPage, out, data)
}

func (h *History) sheet(id string) (telescopeSheet, error) {
	w := h.words
	t := telescopeSheet{Name: h.telescope(), Verdict: h.Verdict()}
	for _, c := range []string{"history.number", "history.date", "history.found-column", "history.left-column", "history.result", "history.seeing"} {
		t.Columns = append(t.Columns, w.say(c))
	}
	for _, k := range h.last.Knobs {
		t.Columns = append(t.Columns, w.knob(k.Name))
	}
	for _, j := range h.Journeys {
		row := []string{fmt.Sprint(j.Night), w.date(j.Began), h.value(j.Found), h.value(j.Left), h.result(j), h.value(above(j.Seeing))}
		for k := range h.last.Knobs {
			cell := ""
			if k < len(j.Walked) {
				cell = w.turns(j.Walked[k].Turns) + " ± " + w.num(j.Walked[k].Sigma, 2)
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	for _, f := range []struct {
		id   string
		draw func(*chart) int
		y    string
	}{{"off", h.drawOff, "axis.off"}, {"knobs", h.drawKnobs, "history.turns"}, {"seeing", h.drawSeeing, "axis.seeing"}} {
		p := w.newPlot(w.say("history.number"), w.say(f.y))
		if f.draw(p) == 0 {
			continue
		}
		p.X.Min, p.X.Max = 0.4, float64(len(h.Journeys))+0.6
		p.X.Tick.Marker = h.ticks()
		drawing, err := p.svg(14.5, 7.5, id+"-"+f.id, w.say("history."+f.id+"-title"), h.describe())
		if err != nil {
			return t, err
		}
		t.Figures = append(t.Figures, figure{drawing, w.say("history."+f.id+"-title") + ". " + w.say("history."+f.id+"-note")})
	}
	return t, nil
}

// describe is what a drawing of the nights shows, in words; the table has it all.
func (h *History) describe() string {
	var lines []string
	for _, j := range h.Journeys {
		lines = append(lines, h.line(j))
	}
	return strings.Join(lines, " ")
}

func (h *History) value(x *float64) string {
	if x == nil {
		return ""
	}
	return h.words.num(*x, 1)
}

func above(x float64) *float64 {
	if x > 0 {
		return &x
	}
	return nil
}

// ticks are the nights' numbers, as many as there is room for.
func (h *History) ticks() plot.ConstantTicks {
	var list plot.ConstantTicks
	for i, j := range h.Journeys {
		t := plot.Tick{Value: float64(i + 1)}
		if step := 1 + len(h.Journeys)/20; i%step == 0 {
			t.Label = fmt.Sprint(j.Night)
		}
		list = append(list, t)
	}
	return list
}

// drawOff draws how each night was found and left, with what it surely was below, and the
// way between nights.
func (h *History) drawOff(p *chart) (drawn int) {
	top := 1.5
	var left *plotter.XY // where the last one was, to come from
	for i, j := range h.Journeys {
		x := float64(i + 1)
		for _, e := range []struct {
			at    float64
			value *float64
			bound float64
			glyph draw.GlyphDrawer
		}{{x - 0.12, j.Found, j.FoundBound, draw.RingGlyph{}}, {x + 0.12, j.Left, j.LeftBound, draw.CircleGlyph{}}} {
			if e.value == nil {
				left = nil
				continue
			}
			if j.Kind != "" {
				e.at, e.glyph = x, draw.BoxGlyph{}
			}
			top = max(top, 1.1**e.value, min(1.05*e.bound, 2**e.value))
			at := plotter.XY{X: e.at, Y: *e.value}
			if left != nil {
				way := curve{plotter.XYs{*left, at}, blue, nil, 2} // what a night did
				if e.value == j.Found {
					way.dashes, way.width = dashes, 1 // what a journey did
				}
				p.lines(way)
			}
			if e.bound > *e.value {
				p.lines(curve{plotter.XYs{at, {X: e.at, Y: e.bound}}, edge, nil, 1.5})
			}
			p.dot(at, e.glyph, 4.5)
			left, drawn = &at, drawn+1
		}
		if j.Kind != "" {
			left = nil // a day is not compared
		}
	}
	p.Y.Min, p.Y.Max = 0, top
	p.lines(curve{plotter.XYs{{X: 0.4, Y: 1}, {X: float64(len(h.Journeys)) + 0.6, Y: 1}}, ink, dashes, 1})
	return drawn
}

// drawKnobs draws each knob's part in each journey.
func (h *History) drawKnobs(p *chart) (drawn int) {
	glyphs := []draw.GlyphDrawer{draw.PyramidGlyph{}, draw.CircleGlyph{}, draw.BoxGlyph{}}
	reach := 0.0
	for k := range h.last.Knobs {
		if k >= len(glyphs) {
			break
		}
		var way plotter.XYs
		for i, j := range h.Journeys {
			if k >= len(j.Walked) {
				continue
			}
			x, s := float64(i+1)+0.12*float64(k-1), j.Walked[k]
			way = append(way, plotter.XY{X: x, Y: s.Turns})
			reach = max(reach, s.Turns+1.2*s.Sigma, -s.Turns+1.2*s.Sigma)
			p.lines(curve{plotter.XYs{{X: x, Y: s.Turns - s.Sigma}, {X: x, Y: s.Turns + s.Sigma}}, edge, nil, 1.5})
			p.dot(way[len(way)-1], glyphs[k], 4)
		}
		drawn += len(way)
		if len(way) > 1 {
			p.lines(curve{way, blue, nil, 0.75})
		}
	}
	if drawn == 0 {
		return 0
	}
	for k, knob := range h.last.Knobs[:min(len(h.last.Knobs), len(glyphs))] { // which is which, above the rest
		at := plotter.XY{X: 0.5 + float64(len(h.Journeys))*float64(k)/3, Y: 1.35 * reach}
		p.dot(at, glyphs[k], 4)
		p.label(plotter.XY{X: at.X + 0.02*float64(len(h.Journeys)), Y: at.Y}, h.words.knob(knob.Name), draw.XLeft)
	}
	p.Y.Min, p.Y.Max = -1.5*reach, 1.5*reach
	p.lines(curve{plotter.XYs{{X: 0.4, Y: 0}, {X: float64(len(h.Journeys)) + 0.6, Y: 0}}, edge, nil, 0.75})
	return drawn
}

// drawSeeing draws the seeing of each night.
func (h *History) drawSeeing(p *chart) (drawn int) {
	top := 0.0
	for i, j := range h.Journeys {
		if j.Seeing == 0 {
			continue
		}
		drawn, top = drawn+1, max(top, j.Seeing)
		p.dot(plotter.XY{X: float64(i + 1), Y: j.Seeing}, draw.CircleGlyph{}, 4.5)
	}
	p.Y.Min, p.Y.Max = 0, 1.25*top
	return drawn
}
