package pictures

import (
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/journal"
	"halocue/internal/report"
	"halocue/internal/run"
	"halocue/internal/run/parts"
	"halocue/internal/run/session"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
)

var out = flag.String("out", "", "`FOLDER` for the pages, by its whole path")

const (
	walks = -0.12 // turns of the left-hand knob on each drive
	leads = 2     // the left-hand one's number
)

// BenchmarkPages writes the pages that docs shows and a browser checks: a night of the virtual
// telescope that begins far out of true, a few nights after it, between which one knob
// walks and the person works by day once, and their history. Each in the look that follows
// the reader, and in red.
func BenchmarkPages(b *testing.B) {
	dir := cmp.Or(*out, b.TempDir())
	must(b, os.MkdirAll(dir, 0o755))
	path := filepath.Join(dir, "journal.db")
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		b.Fatal(err)
	}
	j, err := journal.Open(path)
	must(b, err)
	defer j.Close()
	axis := r2.Vec{X: 3.9, Y: -2.6}
	var taught *coach.Memory
	for i := range 6 {
		n := telescope.Demo(uint64(40 + i))
		n.Axis = axis
		n.Sky.Seeing = []float64{1.6, 2.2, 1.4, 2.8, 1.9, 1.5}[i]
		evening := time.Date(2031, 2, 3+5*i, 20, 15, 0, 0, time.UTC)
		if i == 3 {
			day(b, j, n, evening.Add(-6*time.Hour))
		}
		axis = r2.Add(oneNight(b, j, n, evening, &taught), driven(n))
	}
	write(b, j, dir, report.Look{}, "")
	write(b, j, dir, report.Look{Red: true}, "-red")
}

func must(b *testing.B, err error) {
	b.Helper()
	if err != nil {
		b.Fatal(err)
	}
}

// oneNight runs one night into the journal, with what the night before it taught, and
// returns where it left the axis.
func oneNight(b *testing.B, j *journal.Journal, n telescope.Night, at time.Time, taught **coach.Memory) (left r2.Vec) {
	c := virtual.Settings(config.Default(), n)
	c.Sound.Output = "none"
	src := telescope.NewSource(n, virtual.Options(virtual.FPS, true))
	defer src.Close()
	kept, err := j.Begin(journal.Start{At: at, Version: "of this page", Settings: c.Tree()})
	must(b, err)
	world := &parts.World{Stdout: io.Discard, Stderr: os.Stderr}
	out, err := session.Run(b.Context(), world, c, virtual.FPS, true, run.Parts{Source: src, Hands: src.Hear, Recorder: kept, Memory: *taught})
	must(b, errors.Join(err, kept.End(at.Add(time.Duration(out.Time*float64(time.Second))), out.Result)))
	*taught = learned(b, j)
	b.Logf("%s: %s after %.0f s, %.2f tolerances off in truth", at.Format(time.DateOnly), out.Result, out.Time, r2.Norm(src.Truth().Axis)/n.Telescope.Tolerance())
	return src.Truth().Axis
}

// learned is what the last night taught, for a night after a drive.
func learned(b *testing.B, j *journal.Journal) *coach.Memory {
	last, err := j.Night(b.Context(), 0)
	must(b, err)
	facts, err := j.Facts(b.Context(), last.ID)
	must(b, err)
	var body struct{ Memory *coach.Memory }
	for _, f := range facts {
		if f.Kind == "learned" {
			must(b, json.Unmarshal(f.Body, &body))
		}
	}
	if body.Memory != nil {
		body.Memory.Axis = nil
	}
	return body.Memory
}

// driven is how a drive moves the axis.
func driven(n telescope.Night) r2.Vec {
	n.Cell.Backlash = 0
	tel := telescope.New(n)
	before := tel.Truth().Axis
	tel.Turn(leads, walks)
	return r2.Sub(tel.Truth().Axis, before)
}

// day keeps a day indoors, of which the history shows how it left the mirror.
func day(b *testing.B, j *journal.Journal, n telescope.Night, at time.Time) {
	kept, err := j.Begin(journal.Start{At: at, Version: "of this page", Settings: virtual.Settings(config.Default(), n).Tree()})
	must(b, err)
	for _, e := range []map[string]any{
		{"t": 0, "event": "session", "kind": journal.Indoors},
		{"t": 20, "event": "look", "found": true, "known": true, "axis_mm": map[string]float64{"x": 5, "y": -4}},
		{"t": 95, "event": "look", "found": true, "known": true, "axis_mm": map[string]float64{"x": 1.6, "y": -0.9}},
	} {
		must(b, kept.Record(e))
	}
	must(b, kept.End(at.Add(2*time.Minute), "rough"))
}

// write writes the pages of the journal in one look.
func write(b *testing.B, j *journal.Journal, dir string, l report.Look, end string) {
	page := func(name string, write func(io.Writer) error) {
		f, err := os.Create(filepath.Join(dir, name+end+".html"))
		must(b, err)
		must(b, errors.Join(write(f), f.Close()))
	}
	for name, number := range map[string]int64{"night": 1, "day": 4} {
		n, err := report.Load(b.Context(), j, number)
		must(b, err)
		page(name, func(w io.Writer) error { return n.HTML(w, l) })
	}
	all, err := report.Histories(b.Context(), j)
	must(b, err)
	for _, h := range all {
		b.Log(h.Verdict())
	}
	page("history", func(w io.Writer) error { return report.WriteHistoryPage(w, all, l, "of this page") })
}
