// Pages writes the pages that docs shows and a browser checks: a night of the virtual
// telescope that begins far out of true, a few nights after it, between which one knob
// walks and the person works by day once, and their history. Each in the look that follows
// the reader, and in red.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
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

func main() {
	if err := pages(context.Background(), os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "pages:", err)
		os.Exit(1)
	}
}

const (
	walks = -0.12 // turns of the left-hand knob on each drive
	leads = 2     // the left-hand one's number
)

func pages(ctx context.Context, args []string) error {
	if len(args) != 1 {
		return errors.New("name the folder to write to")
	}
	dir := args[0]
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	path := filepath.Join(dir, "journal.db")
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	j, err := journal.Open(path)
	if err != nil {
		return err
	}
	defer j.Close()
	axis := r2.Vec{X: 3.9, Y: -2.6}
	var taught *coach.Memory
	for i := range 6 {
		n := telescope.Demo(uint64(40 + i))
		n.Axis = axis
		n.Sky.Seeing = []float64{1.6, 2.2, 1.4, 2.8, 1.9, 1.5}[i]
		evening := time.Date(2031, 2, 3+5*i, 20, 15, 0, 0, time.UTC)
		if i == 3 {
			if err := day(j, n, evening.Add(-6*time.Hour)); err != nil {
				return err
			}
		}
		left, err := night(ctx, j, n, evening, &taught)
		if err != nil {
			return err
		}
		axis = r2.Add(left, driven(n))
	}
	if err := write(ctx, j, dir, report.Look{}, ""); err != nil {
		return err
	}
	return write(ctx, j, dir, report.Look{Red: true}, "-red")
}

// night runs one night into the journal, with what the night before it taught, and
// returns where it left the axis.
func night(ctx context.Context, j *journal.Journal, n telescope.Night, at time.Time, taught **coach.Memory) (left r2.Vec, err error) {
	c := virtual.Settings(config.Default(), n)
	c.Sound.Output = "none"
	src := telescope.NewSource(n, virtual.Options(virtual.FPS, true))
	defer src.Close()
	kept, err := j.Begin(journal.Start{At: at, Version: "of this page", Settings: c.Tree()})
	if err != nil {
		return left, err
	}
	world := &parts.World{Stdin: nil, Stdout: io.Discard, Stderr: os.Stderr}
	out, err := session.Run(ctx, world, c, virtual.FPS, true, run.Parts{Source: src, Hands: src.Hear, Recorder: kept, Memory: *taught})
	err = errors.Join(err, kept.End(at.Add(time.Duration(out.Time*float64(time.Second))), out.Result))
	if err == nil {
		*taught, err = learned(ctx, j)
	}
	fmt.Printf("%s: %s after %.0f s, %.2f tolerances off in truth\n", at.Format(time.DateOnly), out.Result, out.Time, r2.Norm(src.Truth().Axis)/n.Telescope.Tolerance())
	return src.Truth().Axis, err
}

// learned is what the last night taught, for a night after a drive.
func learned(ctx context.Context, j *journal.Journal) (*coach.Memory, error) {
	last, err := j.Night(ctx, 0)
	if err != nil {
		return nil, err
	}
	facts, err := j.Facts(ctx, last.ID)
	if err != nil {
		return nil, err
	}
	var body struct{ Memory *coach.Memory }
	for _, f := range facts {
		if f.Kind == "learned" {
			if err := json.Unmarshal(f.Body, &body); err != nil {
				return nil, err
			}
		}
	}
	if body.Memory != nil {
		body.Memory.Axis = nil
	}
	return body.Memory, nil
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
func day(j *journal.Journal, n telescope.Night, at time.Time) error {
	kept, err := j.Begin(journal.Start{At: at, Version: "of this page", Settings: virtual.Settings(config.Default(), n).Tree()})
	if err != nil {
		return err
	}
	for _, e := range []map[string]any{
		{"t": 0, "event": "session", "kind": journal.Indoors},
		{"t": 20, "event": "look", "found": true, "known": true, "axis_mm": map[string]float64{"x": 5, "y": -4}},
		{"t": 95, "event": "look", "found": true, "known": true, "axis_mm": map[string]float64{"x": 1.6, "y": -0.9}},
	} {
		if err := kept.Record(e); err != nil {
			return err
		}
	}
	return kept.End(at.Add(2*time.Minute), "rough")
}

// write writes the pages of the journal in one look.
func write(ctx context.Context, j *journal.Journal, dir string, l report.Look, end string) error {
	for name, number := range map[string]int64{"night": 1, "day": 4} {
		n, err := report.Load(ctx, j, number)
		if err != nil {
			return err
		}
		if err := file(filepath.Join(dir, name+end+".html"), func(w io.Writer) error { return n.HTML(w, l) }); err != nil {
			return err
		}
	}
	all, err := report.Histories(ctx, j)
	if err != nil {
		return err
	}
	for _, h := range all {
		fmt.Println(h.Verdict())
	}
	return file(filepath.Join(dir, "history"+end+".html"), func(w io.Writer) error { return report.WriteHistoryPage(w, all, l, "of this page") })
}

func file(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}
