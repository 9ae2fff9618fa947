package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
)

//go:embed page.html
var pageText string

var page = template.Must(template.New("page").Funcs(template.FuncMap{"unknown": unknown}).Parse(pageText))

type figure struct {
	SVG     template.HTML
	Caption string
}

// shape is a ring drawn with a radius of 100.
type shape struct {
	ID, Name, Text  string
	T, X, Y, Shadow float64
}

// HTML writes the night as one page that needs no other file.
func (n *Night) HTML(w io.Writer) error {
	data := struct {
		*Night
		Figures []figure
		Rings   []shape
		Rows    []Point
		Picked  bool
	}{Night: n, Rows: n.Table(tableRows)}
	data.Picked = len(data.Rows) < len(n.Path)
	if err := n.figures(&data.Figures); err != nil {
		return err
	}
	for _, r := range []struct {
		id, name string
		ring     *Ring
	}{{"before", "Before", n.Before}, {"after", "After", n.After}} {
		if r.ring != nil {
			s := 100 / r.ring.Radius
			data.Rings = append(data.Rings, shape{r.id, r.name, r.ring.Text(), r.ring.T, s * r.ring.OffsetX, s * r.ring.OffsetY, s * r.ring.Shadow})
		}
	}
	if err := page.Execute(w, data); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	return nil
}

// figures draws what the night has enough points for.
func (n *Night) figures(list *[]figure) error {
	if len(n.Path) < 2 || n.ToleranceMM == 0 {
		return nil
	}
	for _, f := range []struct {
		draw    func() (template.HTML, error)
		caption string
	}{
		{n.pathPlot, "Where the mirror's axis met the sensor: from the square to the dot. The dashed circle is the tolerance."},
		{n.comaPlot, "The coma that is left on the axis, against the diffraction tolerance (dashed)."},
		{n.airPlot, "How restless the air was."},
	} {
		drawn, err := f.draw()
		if err != nil {
			return err
		}
		if n.Kind != "" { // by day there is no coma to see, and no air
			*list = append(*list, figure{drawn, "Where the mirror's axis passed the middle of the focuser: from the square to the dot. The dashed circle is the tolerance."})
			return nil
		}
		if drawn != "" {
			*list = append(*list, figure{drawn, f.caption})
		}
	}
	return nil
}
