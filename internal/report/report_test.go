package report

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halocue/internal/journal"
)

type fields map[string]any

var evening = time.Date(2031, 2, 3, 20, 15, 0, 0, time.UTC)

// keep writes a night of a 200 mm F/5 into the journal: its axis point comes in a
// straight line from start to end, in tolerances, and one knob is turned.
func keep(t *testing.T, j *journal.Journal, day int, start, end float64, result string) {
	t.Helper()
	at := evening.AddDate(0, 0, day)
	n, err := j.Begin(journal.Start{At: at, Version: "test", Settings: fields{"telescope": fields{"aperture_mm": 200, "focal_length_mm": 1000, "secondary_mm": 50}, "mirror_cell": fields{"knobs": []fields{{"name": "upper", "clock": 12}, {"name": "right-hand", "clock": 4}, {"name": "left-hand", "clock": 8}}}}})
	if err != nil {
		t.Fatal(err)
	}
	record := func(f fields) {
		if err := n.Record(f); err != nil {
			t.Fatal(err)
		}
	}
	record(fields{"t": 0, "event": "stage", "stage": "learn"})
	record(fields{"t": 0.1, "event": "measure", "found": false, "known": false})
	const steps = 100
	for i := range steps + 1 {
		ratio := start + (end-start)*max(0, float64(i-10))/(steps-10)
		if i == 11 {
			record(fields{"t": 11, "event": "say", "action": "turn", "knob": "upper", "direction": "tighten", "turns": 0.1, "seconds": 2, "text": `Knob "<b>one</b>", tighten.`})
		}
		record(fields{
			"t": float64(i + 1), "event": "measure", "found": true, "known": true, "radius_px": 100, "shadow_px": 25,
			"offset_px": fields{"x": 3 * ratio, "y": 4 * ratio}, "axis_mm": fields{"x": 1.3875 * ratio, "y": 0}, "tolerance_ratio": ratio, "bound": ratio + 0.1, "r0_mm": 100,
		})
	}
	record(fields{"t": 50.0, "event": "device", "device": "camera", "state": "lost", "detail": "unplugged"})
	record(fields{"t": 50.5, "event": "device", "device": "camera", "state": "back"})
	if result != "" {
		record(fields{"t": 110.0, "event": "say", "action": "done", "result": result, "text": "Done."})
		if err := n.End(at.Add(2*time.Minute), result); err != nil {
			t.Fatal(err)
		}
	} else if err := n.Flush(); err != nil {
		t.Fatal(err)
	}
}

func open(t *testing.T) *journal.Journal {
	t.Helper()
	j, err := journal.Open(filepath.Join(t.TempDir(), "j.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	return j
}

func load(t *testing.T, j *journal.Journal) *Night {
	t.Helper()
	n, err := Load(context.Background(), j, 0)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestNumbers(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	n := load(t, j)
	// 0.0111 F^3 mm at F/5 (telescope-optics.net, eq. 70.2).
	if math.Abs(n.ToleranceMM-1.3875) > 1e-12 {
		t.Errorf("tolerance %g mm", n.ToleranceMM)
	}
	// One tolerance is 1/13.4 wave RMS, by definition of it; the obstruction changes that by less than 2 %.
	if w := n.Path[0].Waves / 3; math.Abs(w*13.4-1) > 0.02 {
		t.Errorf("a tolerance is %g waves RMS", w)
	}
	if n.Turns != 1 || n.FirstTurn != 11 || n.Faults != 1 || n.Seconds != 110 || len(n.Path) != 101 {
		t.Errorf("%d turns from %g s, %d faults, %g s, %d points", n.Turns, n.FirstTurn, n.Faults, n.Seconds, len(n.Path))
	}
	if n.Before.T != 1 || n.After.T != 101 || math.Abs(n.Before.Lean()-0.15) > 1e-9 {
		t.Errorf("before %+v, after %+v", n.Before, n.After)
	}
	for _, want := range []string{"was 3.0 tolerances off, give or take 0.1", "1 minute 50 seconds and one turn", "is true now", "0.4 tolerances off at the end, and surely less than 0.50", "A device failed once",
		// A bound of half a tolerance is 1/27 wave of coma, less than a twenty-fifth.
		"one twenty-fifth of a wave at the most"} {
		if s := n.Summary(); !strings.Contains(s, want) {
			t.Errorf("%q lacks %q", s, want)
		}
	}
}

func TestClock(t *testing.T) {
	for want, d := range map[int][2]float64{12: {0, -1}, 3: {1, 0}, 6: {0, 1}, 9: {-1, 0}, 5: {1, 1.7}} {
		if got := clock(d[0], d[1]); got != want {
			t.Errorf("%v is at %d, want %d", d, got, want)
		}
	}
	if got := clock(-0.01, -1); got != 12 {
		t.Errorf("just left of the top is %d", got)
	}
}

// The page must need no other file, be well formed, and describe its pictures in words.
func TestPage(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	var b bytes.Buffer
	if err := load(t, j).HTML(&b, Look{}); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, never := range []string{"<b>one", "<script", "src=", "url(", "@import", "<link"} {
		if strings.Contains(text, never) {
			t.Errorf("the page holds %q", never)
		}
	}
	if !strings.Contains(text, "&lt;b&gt;one") {
		t.Error("the spoken words are missing")
	}
	d := xml.NewDecoder(strings.NewReader(text))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	count := map[string]int{}
	ids, named := map[string]bool{}, []string{}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		e, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		count[e.Name.Local]++
		for _, a := range e.Attr {
			switch a.Name.Local {
			case "id":
				if ids[a.Value] {
					t.Errorf("id %s twice", a.Value)
				}
				ids[a.Value] = true
			case "aria-labelledby":
				named = append(named, strings.Fields(a.Value)...)
			}
		}
	}
	for _, id := range named {
		if !ids[id] {
			t.Errorf("a picture is named by %s, which is not there", id)
		}
	}
	// Three charts and the knobs are named and described, two rings named.
	if count["svg"] != 6 || len(named) != 4*2+2 || count["table"] != 2 || count["h1"] != 1 {
		t.Errorf("%d pictures with %d names, %d tables, %d h1", count["svg"], len(named), count["table"], count["h1"])
	}
}

func TestTextAndData(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "")
	n := load(t, j)
	var md, data bytes.Buffer
	if err := errors.Join(n.Markdown(&md), WriteJSON(&data, n)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# Night 1, 3 February 2031, 20:15 UTC", "breaks off", "- 11.0 s, said: Knob", "| 1.0 | 4.162 | 0.000 | 3.00 | 3.10 | 0.2", "Radius 100 px; the shadow stands 15 per cent of that off the middle, toward 5 o'clock"} {
		if !strings.Contains(md.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, md.String())
		}
	}
	if strings.Contains(md.String(), "<b>") {
		t.Error("a name became markup")
	}
	var back Night
	if err := json.Unmarshal(data.Bytes(), &back); err != nil || len(back.Path) != 101 || !back.CutOff {
		t.Errorf("the data came back with %d points, %v", len(back.Path), err)
	}
}

// Nights with nothing in them are reported too.
func TestEmptyNight(t *testing.T) {
	j := open(t)
	night, err := j.Begin(journal.Start{At: evening, Settings: fields{}})
	if err != nil {
		t.Fatal(err)
	}
	if err := night.End(evening, ""); err != nil {
		t.Fatal(err)
	}
	n := load(t, j)
	var b bytes.Buffer
	if err := errors.Join(n.HTML(&b, Look{}), n.Text(&b), n.Markdown(&b), WriteJSON(&b, n)); err != nil {
		t.Fatal(err)
	}
	if s := n.Summary(); !strings.Contains(s, "never known") || !strings.Contains(s, "ended before") {
		t.Errorf("%q", s)
	}
}

func TestHistory(t *testing.T) {
	j := open(t)
	keep(t, j, 0, 3, 0.4, "aligned")
	keep(t, j, 1, 0.5, 0.3, "aligned")
	keep(t, j, 5, 0.6, 0.2, "aligned")
	keep(t, j, 9, 4.2, 0.5, "aligned")
	all, err := Histories(context.Background(), j)
	if err != nil || len(all) != 1 || len(all[0].Journeys) != 4 {
		t.Fatalf("%d telescopes, %v", len(all), err)
	}
	var drifts []float64
	for _, journey := range all[0].Journeys[1:] {
		drifts = append(drifts, *journey.Drifted)
	}
	for i, want := range []float64{0.1, 0.3, 4} {
		if math.Abs(drifts[i]-want) > 1e-9 {
			t.Errorf("drifts %v", drifts)
		}
	}
	if v := all[0].Verdict(); !strings.Contains(v, "half of 3 journeys") || !strings.Contains(v, "by 0.3 tolerances or less, on the worst by 4.0") || !strings.Contains(v, "holds well") {
		t.Error(v)
	}
	var text bytes.Buffer
	if err := WriteHistory(&text, all); err != nil || !strings.Contains(text.String(), "Night 4, 12 February 2031: found 4.2 tolerances off, left 0.5 off, true.") {
		t.Errorf("%v: %s", err, text.String())
	}
	few := *all[0]
	few.Journeys = few.Journeys[:2]
	if v := few.Verdict(); !strings.Contains(v, "too few") {
		t.Error(v)
	}
}

// A day indoors is reported as such: its outcome in words of its own, the axis's path from
// its looks, and no coma. It is no journey of the telescope: what the next night
// finds is not compared with what the night before it left.
func TestDayIndoors(t *testing.T) {
	j, err := journal.Open(filepath.Join(t.TempDir(), "j.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	keep(t, j, 0, 3, 0.2, "aligned")
	day, err := j.Begin(journal.Start{At: evening.AddDate(0, 0, 1), Settings: fields{"telescope": fields{"aperture_mm": 200, "focal_length_mm": 1000}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []fields{
		{"t": 0, "event": "session", "kind": journal.Indoors},
		{"t": 1, "event": "look", "found": true},
		{"t": 2, "event": "look", "found": true, "known": true, "axis_mm": fields{"x": 3, "y": -4}},
		{"t": 9, "event": "look", "found": true, "known": true, "axis_mm": fields{"x": 0.3, "y": 0}},
	} {
		if err := day.Record(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := day.End(evening.AddDate(0, 0, 1), "rough"); err != nil {
		t.Fatal(err)
	}
	keep(t, j, 2, 5, 0.2, "aligned")
	n, err := Load(context.Background(), j, 2)
	if err != nil {
		t.Fatal(err)
	}
	// The tolerance of an F/5 is 0.0111 F^3 = 1.39 mm (optics.Telescope.Tolerance).
	if len(n.Path) != 2 || math.Abs(n.Path[0].Ratio-5/1.39) > 0.02 || n.Path[0].Waves != 0 {
		t.Errorf("the way of the axis is %+v", n.Path)
	}
	var text, page, history bytes.Buffer
	if err := errors.Join(n.Markdown(&text), n.HTML(&page, Look{})); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# Day 2", "roughly true"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, text.String())
		}
	}
	if !strings.Contains(text.String(), "by 5.0 mm at first and by 0.3 mm at the end") || strings.Contains(page.String(), "surely below 0") {
		t.Errorf("the summary is %q", n.Summary())
	}
	if strings.Contains(page.String(), "coma that is left") || !strings.Contains(page.String(), "middle of the focuser") {
		t.Error("the page tells of coma, or not of the focuser")
	}
	all, err := Histories(context.Background(), j)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 1 || len(all[0].Journeys) != 3 || all[0].Journeys[2].Drifted != nil {
		t.Errorf("the history is %+v", all)
	}
	if err := WriteHistory(&history, all); err != nil || !strings.Contains(history.String(), "Day 2,") {
		t.Errorf("%v\n%s", err, history.String())
	}
}
