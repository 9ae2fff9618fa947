package report

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"image/png"
	"io"
	"math"
)

var (
	//go:embed page.html
	pageText string

	//go:embed style.css
	style string
)

var page = template.Must(template.New("page").Parse(pageText))

// Look is how a page looks.
type Look struct {
	Red bool // for the field: dark, and nothing but red
}

// sheet is what every page has.
type sheet struct {
	*words
	Look
	Style template.CSS
	Made  string
}

func (w *words) sheet(l Look, version string) sheet {
	//nolint:gosec // the style sheet is ours
	return sheet{w, l, template.CSS(style), w.say("version", facts{"Version": version})}
}

// Say is what a page is written with.
func (s sheet) Say(id string) string { return s.say(id) }

// HTML writes the night as one page that needs no other file.
func (n *Night) HTML(out io.Writer, l Look) error {
	w := n.words
	data := struct {
		sheet
		*Night
		TimeChart, WayChart, AirChart, KnobDrawing template.HTML
		WayNote, KnobNote, Tolerance               string
		Said                                       []cue
		Stars                                      []star
		Log                                        []struct{ T, Kind, Text string }
		Columns                                    []string
		Rows                                       [][]string
		Picked                                     bool
	}{sheet: w.sheet(l, n.Version), Night: n, Said: n.said(), Stars: n.stars(), Columns: n.columns(), Rows: n.rows()}
	data.Picked = len(data.Rows) < len(n.Path)
	if n.ToleranceMM > 0 {
		data.Tolerance = n.tolerance()
	}
	for _, e := range n.Events {
		data.Log = append(data.Log, struct{ T, Kind, Text string }{w.num(e.T, 1), w.say("kind." + e.Kind), n.what(e)})
	}
	data.WayNote = w.say("way.note")
	if n.Kind != "" { // by day there is no coma to see, and no air
		data.WayNote = w.say("way.day")
	}
	var err error
	if len(n.known()) > 1 && n.ToleranceMM > 0 {
		if n.Kind == "" { // a look by day has no bound
			if data.TimeChart, err = n.timePlot(); err != nil {
				return err
			}
		}
		if data.WayChart, err = n.wayPlot(); err != nil {
			return err
		}
	}
	if data.AirChart, err = n.airPlot(); err != nil {
		return err
	}
	data.KnobDrawing, data.KnobNote = n.knobDrawing()
	return execute(page, out, data)
}

func execute(t *template.Template, w io.Writer, data any) error {
	if err := t.Execute(w, data); err != nil {
		return fmt.Errorf("writing the page: %w", err)
	}
	return nil
}

// star is one of before and after: the star itself, where there is a picture, and its
// ring drawn with a radius of 100.
type star struct {
	ID, Name, Text  string
	X, Y, Shadow    float64
	Photo, Drawing  string // what they are, in words
	PNG             template.URL
	Side, Pen, Dash float64
	InPhoto         Picture
}

func (n *Night) stars() (list []star) {
	w := n.words
	for _, r := range []struct {
		id   string
		ring *Ring
	}{{"before", n.Before}, {"after", n.After}} {
		if r.ring == nil {
			continue
		}
		s := star{ID: r.id, Name: w.say("star."+r.id, facts{"T": w.num(r.ring.T, 0)}), Text: n.ringText(*r.ring)}
		k := 100 / r.ring.Radius
		s.X, s.Y, s.Shadow = k*r.ring.OffsetX, k*r.ring.OffsetY, k*r.ring.Shadow
		s.Photo, s.Drawing = w.say("star.photo", facts{"When": s.Name}), w.say("star.drawing", facts{"When": s.Name})+" "+s.Text
		if p, ok := n.Pictures[r.id]; ok {
			if c, err := png.DecodeConfig(bytes.NewReader(p.PNG)); err == nil && c.Width == c.Height && c.Width <= 1024 { // else it is damaged
				//nolint:gosec // a picture, whatever is in it
				s.PNG = template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(p.PNG))
				s.InPhoto, s.Side, s.Pen, s.Dash = p, float64(c.Width), float64(c.Width)/120, float64(c.Width)/40
			}
		}
		list = append(list, s)
	}
	return list
}

// ringText is a ring in words.
func (n *Night) ringText(r Ring) string {
	id := "star.ring"
	if r.Lean() < 0.002 {
		id = "star.centred"
	}
	return n.words.say(id, facts{"Radius": n.words.num(r.Radius, 0), "Lean": n.words.num(100*r.Lean(), 0), "Hour": clock(r.OffsetX, r.OffsetY)})
}

// knobDrawing draws the mirror from behind, with what was done to each knob, and the words
// below it.
func (n *Night) knobDrawing() (template.HTML, string) {
	if len(n.Knobs) == 0 || n.Kind != "" {
		return "", ""
	}
	w := n.words
	note, done := w.say("knob.asked"), ""
	var b bytes.Buffer
	for i, k := range n.Knobs {
		sin, cos := math.Sincos(math.Mod(k.Clock, 12) * math.Pi / 6)
		x, y := 78*sin, -78*cos
		turns := k.moved()
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="11" style="fill:var(--page);stroke:var(--ink);stroke-width:2"/>`, x, y)
		if turns != 0 {
			b.WriteString(arrow(x, y, turns > 0))
		}
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" text-anchor="middle" font-size="14" font-weight="bold">%s</text>`, x*0.42, y*0.42+5, w.turns(turns))
		if k.Turned != nil {
			note = w.say("knob.note")
		}
		if i > 0 {
			done += "; "
		}
		done += n.did(k)
	}
	//nolint:gosec // numbers, and words that are escaped
	return template.HTML(fmt.Sprintf(`<svg role="img" aria-labelledby="knobs-title knobs-desc" viewBox="-115 -115 230 230"><title id="knobs-title">%s</title><desc id="knobs-desc">%s</desc><circle r="100" style="fill:var(--band);stroke:var(--edge);stroke-width:2"/>%s</svg>`,
		template.HTMLEscapeString(w.say("knob.title")), template.HTMLEscapeString(done), b.String())), done + ". " + note
}

// arrow is a three-quarter arc about a knob, with a head: clockwise to tighten.
func arrow(x, y float64, tighten bool) string {
	const r = 18
	way, sweep := 1.0, 1
	if !tighten {
		way, sweep = -1, 0
	}
	at := func(degrees, r float64) (float64, float64) { // from the top, the arrow's way round
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		return x + way*r*sin, y - r*cos
	}
	x0, y0 := at(-130, r)
	x1, y1 := at(115, r)
	tipX, tipY := at(145, r)
	inX, inY := at(115, r-7)
	outX, outY := at(115, r+7)
	return fmt.Sprintf(`<path d="M%.1f %.1fA%d %d 0 1 %d %.1f %.1f" style="fill:none;stroke:var(--mark);stroke-width:3.5"/><path d="M%.1f %.1fL%.1f %.1fL%.1f %.1fZ" style="fill:var(--mark)"/>`,
		x0, y0, r, r, sweep, x1, y1, tipX, tipY, inX, inY, outX, outY)
}
