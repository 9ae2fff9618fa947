package report

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"halocue/internal/journal"
)

// A night that ended well, as one is: the first guess is near the target by chance, with a
// bound of 92 tolerances; it is known from 9.5 s on, in the words of the first turn.
var goodNight = []Point{
	{T: 0.5, Ratio: 0.37, Bound: 92.5}, {T: 3, Ratio: 0.3, Bound: 88}, {T: 9.5, X: 2, Y: -0.8, Ratio: 1.42, Bound: 2.09}, {T: 10, X: 2, Y: -0.8, Ratio: 1.45, Bound: 1.94},
	{T: 20, X: 1, Ratio: 0.7, Bound: 5}, {T: 69, X: 0.8, Ratio: 0.61, Bound: 0.87, R0: 50},
}

func TestTheLineBeginsWhereSomethingIsKnown(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	n := load(t, j)
	n.Path, n.FirstTurn, n.turnEnds, n.Seconds = goodNight, 9.1, 11, 70
	if f := n.found(); f == nil || f.T != 9.5 {
		t.Errorf("found %+v", f)
	}
	drawn, err := n.timePlot()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"From 1.4 tolerances off at 10 s to 0.6 at 69 s, where it was surely less than 0.87. Turns: 1. Pushes of the tube: 0.", ">at the end 0.61, surely below 0.87<", ">rack<", "var(--band)"} {
		if !strings.Contains(string(drawn), want) {
			t.Errorf("the drawing lacks %q", want)
		}
	}
	if strings.Contains(n.Summary(), "0.4 tolerances off, give") || !strings.Contains(n.Summary(), "was 1.4 tolerances off, give or take 0.7") {
		t.Error(n.Summary())
	}
	n.turnEnds = 9.2 // it was turned before anything was known
	if n.found() != nil || !strings.Contains(n.Summary(), "before the first turn is not known") {
		t.Error(n.Summary())
	}
}

// A full disk is no power cut.
func TestWhyItBreaksOff(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	j, err := journal.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	keep(t, j, 0, 3, 0.4, "")
	if n := load(t, j); !n.CutOff || !strings.Contains(n.Summary(), "the power or the program failed") {
		t.Error(n.Summary())
	}
	db, err := sql.Open("sqlite", path) // as a full disk leaves it; the journal's own test has the disk
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("UPDATE night SET lost = 'disk-full'"); err != nil {
		t.Fatal(err)
	}
	if n := load(t, j); n.CutOff || strings.Contains(n.Summary(), "power") || !strings.Contains(n.Summary(), "The disk was full") {
		t.Error(n.Summary())
	}
	n := load(t, j)
	n.Result = "aligned" // the end could be written
	if s := n.Summary(); strings.Contains(s, "power") || !strings.Contains(s, "The disk was full") || !strings.Contains(s, "true now") || strings.Contains(s, "at the end") {
		t.Error(s)
	}
}

// Worth a look next time is what was said of it, each thing once.
func TestWhatToWatch(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	n := load(t, j)
	for range 2 {
		n.Events = append(n.Events, Event{Kind: "said", Code: "flop", Text: "The mirror moved in its cell."})
	}
	if s := n.Summary(); strings.Count(s, "moved in its cell") != 1 || !strings.Contains(s, "next time: The mirror") {
		t.Error(s)
	}
}

// The pictures come onto the page with the marks where the journal has them, and the ring
// that was measured with each is drawn beside it. A damaged one is left out.
func TestPicturesOfTheStar(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	night, err := j.Begin(journal.Start{At: evening, Settings: fields{"voice": fields{"language": "de"}}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 40, 40))); err != nil {
		t.Fatal(err)
	}
	for i := range 5 {
		if err := night.Record(fields{"t": float64(i), "event": "measure", "found": true, "radius_px": 100 + i, "shadow_px": 25}); err != nil {
			t.Fatal(err)
		}
	}
	circle := fields{"x": 19.5, "y": 20.5, "radius": 16}
	if err := night.Picture("before", 2.1, fields{"ring": circle, "shadow": circle}, b.Bytes()); err != nil {
		t.Fatal(err)
	}
	if err := night.Picture("after", 3.9, fields{"ring": circle, "shadow": circle}, []byte("no picture")); err != nil {
		t.Fatal(err)
	}
	if err := night.End(evening, ""); err != nil {
		t.Fatal(err)
	}
	n := load(t, j)
	if n.Before.Radius != 102 || n.After.Radius != 104 {
		t.Errorf("the rings are %+v and %+v", n.Before, n.After)
	}
	for _, red := range []bool{false, true} {
		var page bytes.Buffer
		if err := n.HTML(&page, Look{Red: red}); err != nil {
			t.Fatal(err)
		}
		text := page.String()
		for _, want := range []string{`<html lang="de"`, `href="data:image/png;base64,`, `<circle cx="19.5" cy="20.5" r="16"/>`, "Vorher, bei 2 s", "Nachher, bei 4 s"} {
			if !strings.Contains(text, want) {
				t.Errorf("the page lacks %q", want)
			}
		}
		if strings.Count(text, "<image ") != 1 || strings.Contains(text, `class="red"`) != red || red && strings.Contains(text, "#ffd08a") {
			t.Errorf("red %v: %d pictures", red, strings.Count(text, "<image "))
		}
	}
}

// What each knob did is drawn from behind: where it is, which way, how far.
func TestWhatEachKnobDid(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	n := load(t, j)
	drawn, note := n.knobDrawing()
	if !strings.Contains(note, "upper knob tighter by 0.10 turns; right-hand knob as it was") || !strings.Contains(note, "that were asked for") || !strings.Contains(string(drawn), ">+0.10<") {
		t.Errorf("%s\n%s", note, drawn)
	}
	var b body
	if err := json.Unmarshal([]byte(`{"memory":{"Turned":[0.2,0,-0.3]}}`), &b); err != nil {
		t.Fatal(err)
	}
	n.add(journal.Fact{Kind: "learned"}, b)
	drawn, note = n.knobDrawing()
	if !strings.Contains(note, "left-hand knob looser by 0.30 turns") || !strings.Contains(note, "as the star told them") || !strings.Contains(string(drawn), ">\u22120.30<") {
		t.Errorf("%s\n%s", note, drawn)
	}
	// Twelve o'clock is above the middle, and an arrow that tightens goes clockwise (SVG 1.1, 8.3.8: sweep 1).
	if !strings.Contains(string(drawn), `cx="0.0" cy="-78.0"`) || !strings.Contains(string(drawn), "A18 18 0 1 1") || !strings.Contains(string(drawn), "A18 18 0 1 0") {
		t.Error(string(drawn))
	}
}

// An arrow is an arc about its knob: both its ends are a radius from it.
func TestArrowGoesAboutItsKnob(t *testing.T) {
	for _, tighten := range []bool{true, false} {
		var x0, y0, x1, y1 float64
		var sweep int
		if _, err := fmt.Sscanf(arrow(30, -40, tighten), `<path d="M%f %fA18 18 0 1 %d %f %f`, &x0, &y0, &sweep, &x1, &y1); err != nil {
			t.Fatal(err)
		}
		if a, b := math.Hypot(x0-30, y0+40), math.Hypot(x1-30, y1+40); math.Abs(a-18) > 0.1 || math.Abs(b-18) > 0.1 {
			t.Errorf("tighten %v: the ends are %.1f and %.1f from the knob", tighten, a, b)
		}
	}
}

// Data are written a key a line, for those who look at them.
func TestDataAreIndented(t *testing.T) {
	var b strings.Builder
	if err := WriteJSON(&b, map[string]int{"a": 1, "b": 2}); err != nil || strings.Count(b.String(), "\n") != 4 {
		t.Errorf("%q, %v", b.String(), err)
	}
}

// What each knob did is written between the middle and the knob.
func TestFiguresStandWithinTheKnobs(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	drawn, _ := load(t, j).knobDrawing()
	parts := strings.Split(string(drawn), "<text ")[1:]
	if len(parts) == 0 {
		t.Fatal(string(drawn))
	}
	for _, part := range parts {
		var x, y float64
		if _, err := fmt.Sscanf(part, `x="%f" y="%f"`, &x, &y); err != nil || math.Hypot(x, y) > 60 {
			t.Errorf("%.1f, %.1f, %v", x, y, err)
		}
	}
}

// What was asked for is numbered from 1 on, as the text below the plot counts it.
func TestWhatWasAskedForIsNumbered(t *testing.T) {
	n := &Night{Events: []Event{{Action: "turn"}, {Action: "tell"}, {Action: "turn"}, {Action: "done"}}}
	list := n.said()
	if len(list) != 3 {
		t.Fatalf("%+v", list)
	}
	for i, c := range list {
		if c.Number != i+1 {
			t.Errorf("%d has the number %d", i+1, c.Number)
		}
	}
}

// A fault is a device that is lost or in trouble, not one that is back.
func TestFaultsAreCounted(t *testing.T) {
	n := &Night{}
	for _, b := range []body{{Device: "camera", State: "lost"}, {Device: "power", State: "short", On: true}, {Device: "camera", State: "back"}, {Device: "drive", State: "moves"}} {
		n.add(journal.Fact{Kind: "device"}, b)
	}
	if n.Faults != 2 || len(n.Events) != 4 {
		t.Errorf("%d faults of %d events", n.Faults, len(n.Events))
	}
}
