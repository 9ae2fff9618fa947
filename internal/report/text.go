package report

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
)

// Summary tells the night in a few sentences, which page and text open with.
func (n *Night) Summary() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s It took %s, with %s to turn a knob.", n.Outcome(), duration(n.Seconds), count(n.Turns, "cue"))
	if first, last := n.First(), n.Last(); first != nil {
		fmt.Fprintf(&b, " The axis was %.2f tolerances off when first known and %.2f at the end", first.Ratio, last.Ratio)
		if n.ToleranceMM > 0 && n.Kind == "" {
			fmt.Fprintf(&b, ", a coma of %.3f and %.3f waves RMS", first.Waves, last.Waves)
		}
		b.WriteString(".")
	} else {
		b.WriteString(" Where the axis points was never known.")
	}
	if n.Faults > 0 {
		fmt.Fprintf(&b, " There was trouble with a device %s.", times(n.Faults))
	}
	return b.String()
}

func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func duration(seconds float64) string {
	if seconds < 60 {
		return count(int(seconds+0.5), "second")
	}
	whole := int(seconds + 0.5)
	return count(whole/60, "minute") + " " + count(whole%60, "second")
}

// tableRows is how many measurements the tables show.
const tableRows = 40

// JSON writes the whole night as one object.
func (n *Night) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	if err := e.Encode(n); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	return nil
}

// Markdown writes the night as text.
func (n *Night) Markdown(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s %d, %s\n\n%s\n\n", n.Name(), n.ID, n.Began.Format("2 January 2006 15:04 MST"), n.Summary())
	if n.ToleranceMM > 0 {
		fmt.Fprintf(&b, "Telescope: aperture %g mm, focal length %g mm, tolerance %.2f mm.\n\n", n.ApertureMM, n.FocalLengthMM, n.ToleranceMM)
	}
	b.WriteString("## What happened\n\n")
	for _, e := range n.Events {
		fmt.Fprintf(&b, "- %.1f s, %s: %s\n", e.T, e.Kind, plain(e.Text))
	}
	b.WriteString("\n## The axis point\n\n| s | x mm | y mm | tolerances | at most | waves RMS | r0 mm |\n|---|---|---|---|---|---|---|\n")
	for _, p := range n.Table(tableRows) {
		fmt.Fprintf(&b, "| %.1f | %.3f | %.3f | %.2f | %.2f | %.3f | %s |\n", p.T, p.X, p.Y, p.Ratio, p.Bound, p.Waves, unknown(p.R0))
	}
	for _, r := range []struct {
		name string
		ring *Ring
	}{{"before", n.Before}, {"after", n.After}} {
		if r.ring != nil {
			fmt.Fprintf(&b, "\nRing %s: %s\n", r.name, r.ring.Text())
		}
	}
	if _, err := io.WriteString(w, b.String()); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	return nil
}

// Text tells a ring in words.
func (r Ring) Text() string {
	return fmt.Sprintf("radius %.1f px, shadow %.1f px, leaning by %.2f px, %.1f per cent of the radius, %s.",
		r.Radius, r.Shadow, r.Lean()*r.Radius, 100*r.Lean(), r.toward())
}

// toward names the side that the shadow leans to, as a clock face on the frame.
func (r Ring) toward() string {
	if r.Lean() < 0.002 {
		return "to no side"
	}
	return fmt.Sprintf("toward %d o'clock in the frame", clock(r.OffsetX, r.OffsetY))
}

func unknown(x float64) string {
	if x == 0 {
		return "not known"
	}
	return fmt.Sprintf("%.0f", x)
}

// plain keeps what a person or a device named from becoming markup.
func plain(s string) string {
	return strings.NewReplacer("|", "/", "<", "‹", ">", "›", "`", "'", "\n", " ", "[", "(", "]", ")").Replace(s)
}
