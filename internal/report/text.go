package report

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"halocue/internal/journal"
	"halocue/internal/optics"
	"halocue/internal/plain"
)

// Title is what page and text are headed by.
func (n *Night) Title() string {
	return n.name() + ", " + n.words.date(n.Began) + ", " + n.Began.Format("15:04 MST")
}

// name is Night 3, or Day 3.
func (n *Night) name() string {
	if n.Kind == journal.Indoors {
		return n.words.say("day", facts{"N": n.ID})
	}
	return n.words.say("night", facts{"N": n.ID})
}

// Summary is the night as one would write of it to a friend: how it was found, what was
// done, how true it is now and against the air, what to watch.
func (n *Night) Summary() string {
	return strings.Join(slices.Concat(n.beginning(), n.doing(), n.ending(), n.watch()), " ")
}

func (n *Night) beginning() []string {
	w := n.words
	switch found := n.found(); {
	case n.Kind != "" && len(n.Path) > 0:
		first, last := n.Path[0], n.Path[len(n.Path)-1]
		return []string{w.say("began.day", facts{"From": w.num(math.Hypot(first.X, first.Y), 1), "To": w.num(math.Hypot(last.X, last.Y), 1)})}
	case found != nil:
		return []string{w.say("began.known", facts{"Ratio": w.num(found.Ratio, 1), "Error": w.num(found.error(), 1)})}
	case len(n.Path) == 0:
		return []string{w.say("began.never")}
	}
	return []string{w.say("began.late")}
}

func (n *Night) doing() []string {
	w := n.words
	took := w.duration(n.Seconds)
	if n.Turns == 0 {
		return []string{w.say("began.untouched", facts{"Time": took})}
	}
	list := []string{w.plural("took", n.Turns, facts{"Time": took, "N": n.Turns})}
	var knobs []string
	for _, k := range n.Knobs {
		if k.Turned != nil && k.moved() != 0 {
			knobs = append(knobs, n.did(k))
		}
	}
	if knobs != nil {
		list = append(list, w.say("turned.all", facts{"List": strings.Join(knobs, ", ")}))
	}
	return list
}

// moved is how far a knob was turned, as the star told it or else as it was asked for;
// what rounds to nothing is nothing.
func (k Knob) moved() float64 {
	turns := k.Asked
	if k.Turned != nil {
		turns = *k.Turned
	}
	return math.Round(100*turns) / 100
}

// did says what was done to a knob.
func (n *Night) did(k Knob) string {
	id := "turned.still"
	if turns := k.moved(); turns > 0 {
		id = "turned.tighter"
	} else if turns < 0 {
		id = "turned.looser"
	}
	return n.words.say(id, facts{"Knob": n.words.knob(k.Name), "Turns": n.words.num(math.Abs(k.moved()), 2)})
}

// outcomes are the words for a result.
var outcomes = map[string]string{"aligned": "aligned", "as-good-as-the-air-allows": "air", "given-up": "given-up", "rough": "rough", "unchecked": "unchecked"}

func (n *Night) ending() (list []string) {
	w := n.words
	if id, ok := outcomes[n.Result]; ok {
		list = append(list, w.say("now."+id))
	} else if !n.CutOff && n.Lost == "" {
		list = append(list, w.say("now.none"))
	}
	switch {
	case n.Lost != "":
		return append(list, w.has("now."+n.Lost, w.say("now.failed")))
	case n.CutOff:
		list = append(list, w.say("now.cut-off"))
	}
	left := n.left()
	if left == nil || n.Kind != "" {
		return list
	}
	list = append(list, w.say("now.off", facts{"Ratio": w.num(left.Ratio, 1), "Bound": w.num(up(left.Bound), 2)}))
	if n.ToleranceMM == 0 {
		return list
	}
	most := n.tel.ComaRMS(left.Bound * n.ToleranceMM)
	list = append(list, w.say("now.waves", facts{"Fraction": w.fraction(most), "Goal": w.fraction(optics.ToleranceRMS)}))
	if r0 := n.air(); r0 > 0 {
		air := math.Sqrt2 * n.tel.AirComa(r0) // of both axes
		id := "now.air-less"
		if air >= most {
			id = "now.air-more"
		}
		list = append(list, w.say(id, facts{"Air": w.fraction(air)}))
	}
	return list
}

// up rounds a bound up to a hundredth.
func up(x float64) float64 { return math.Ceil(100*x-1e-9) / 100 }

// remarks are what was said that the next night should know of.
var remarks = []string{"lock-pulls", "flop", "astigmatism", "spherical", "secondary-size", "pixel-size", "thread-end", "dew"}

func (n *Night) watch() (list []string) {
	var notes []string
	for _, e := range n.Events {
		if slices.Contains(remarks, e.Code) && !slices.Contains(notes, unmarked(e.Text)) {
			notes = append(notes, unmarked(e.Text))
		}
	}
	if n.Faults > 0 {
		notes = append(notes, n.words.plural("faults", n.Faults, facts{"N": n.Faults}))
	}
	if notes == nil {
		return nil
	}
	return []string{n.words.say("now.watch", facts{"Notes": strings.Join(notes, " ")})}
}

// tableRows is how many measurements the tables show.
const tableRows = 40

// WriteJSON writes a night or histories as data.
func WriteJSON(w io.Writer, what any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	if err := e.Encode(what); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	return nil
}

// Text writes the night to be read aloud: the summary first, then what was said.
func (n *Night) Text(out io.Writer) error {
	w := n.words
	var b strings.Builder
	fmt.Fprintf(&b, "%s.\n\n%s\n\n", n.Title(), strings.Join(slices.Concat(n.beginning(), n.doing(), n.ending(), n.watch()), "\n"))
	if n.ToleranceMM > 0 {
		fmt.Fprintf(&b, "%s\n\n", n.tolerance())
	}
	fmt.Fprintf(&b, "%s:\n\n", w.say("head.words"))
	for _, e := range n.Events {
		if e.Kind == "said" || e.Kind == "device" {
			fmt.Fprintf(&b, "%s: %s\n", w.duration(e.T), unmarked(n.what(e)))
		}
	}
	return write(out, b.String())
}

// Markdown writes the night as text with tables.
func (n *Night) Markdown(out io.Writer) error {
	w := n.words
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n%s\n\n", n.Title(), unmarked(n.Summary()))
	if n.ToleranceMM > 0 {
		fmt.Fprintf(&b, "%s\n\n", n.tolerance())
	}
	fmt.Fprintf(&b, "## %s\n\n", w.say("head.words"))
	for _, e := range n.Events {
		fmt.Fprintf(&b, "- %s s, %s: %s\n", w.num(e.T, 1), w.say("kind."+e.Kind), unmarked(n.what(e)))
	}
	fmt.Fprintf(&b, "\n## %s\n\n| %s |\n|---|---|---|---|---|---|---|\n", w.say("head.numbers"), strings.Join(n.columns(), " | "))
	for _, row := range n.rows() {
		fmt.Fprintf(&b, "| %s |\n", strings.Join(row, " | "))
	}
	fmt.Fprintf(&b, "\n%s\n", w.say("note.sure"))
	for _, r := range n.stars() {
		fmt.Fprintf(&b, "\n%s: %s\n", r.Name, r.Text)
	}
	return write(out, b.String())
}

func write(w io.Writer, text string) error {
	if _, err := io.WriteString(w, text); err != nil {
		return fmt.Errorf("writing the report: %w", err)
	}
	return nil
}

// tolerance says what a tolerance is.
func (n *Night) tolerance() string {
	w := n.words
	return w.say("note.tolerance", facts{"Aperture": w.num(n.ApertureMM, 0), "Focal": w.num(n.FocalLengthMM, 0), "MM": w.num(n.ToleranceMM, 2)})
}

// what is an event in words: of a stage its name, else what was said.
func (n *Night) what(e Event) string {
	if e.Kind == "stage" {
		return n.words.has("stage."+e.Text, e.Text)
	}
	return e.Text
}

// columns are the headings of the table of numbers.
func (n *Night) columns() (list []string) {
	for _, c := range []string{"seconds", "right", "down", "off", "sure", "waves", "air"} {
		list = append(list, n.words.say("column."+c))
	}
	return list
}

func (n *Night) rows() (rows [][]string) {
	w := n.words
	for _, p := range n.Table(tableRows) {
		row := []string{w.num(p.T, 1), w.num(p.X, 3), w.num(p.Y, 3), w.num(p.Ratio, 2), w.num(p.Bound, 2), w.num(p.Waves, 3), w.num(p.R0, 0)}
		for i, known := range map[int]bool{4: p.Bound > 0, 5: n.Kind == "", 6: p.R0 > 0} {
			if !known {
				row[i] = w.say("unknown")
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// unmarked keeps what a person or a device named from becoming markup, or worse.
func unmarked(s string) string {
	return strings.NewReplacer("|", "/", "<", "‹", ">", "›", "`", "'", "\n", " ", "[", "(", "]", ")").Replace(plain.Text(s, 2000))
}
