package session

import (
	"context"
	"errors"
	"io"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/journal"
	"halocue/internal/run/parts"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
)

// A night teaches the next one with the same telescope, and any other nothing but
// the person's pace; where the axis was proven counts for the same visit only.
func TestNightsTeach(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	ctx := context.Background()
	n := telescope.Demo(1)
	c := virtual.Settings(config.Default(), n)
	c.Camera.Source, c.Sound.Output, c.Voice.Engine = "virtual:1", "none", "none"
	src := telescope.NewSource(n, virtual.Options(10, true))
	w := &parts.World{Stdout: io.Discard, Stderr: io.Discard}
	if err := Night(ctx, w, c, Options{Frames: true, FPS: 10, Journal: path}, Virtual{Source: src, Hands: src.Hear}); err != nil {
		t.Fatal(err)
	}
	m, err := remembered(ctx, path, c, time.Now())
	if err != nil || m == nil || m.Axis == nil {
		t.Fatalf("remembered %+v, %v; want knobs and a proven axis", m, err)
	}
	want := n.Cell.Pitch / (1.5 * n.Cell.BoltRadius) * 2 * n.Telescope.FocalLength
	for k, got := range m.PerTurn {
		if got < 0.6*want || got > 1.6*want {
			t.Errorf("knob %d moves the star %.1f mm a turn, in truth %.1f", k, got, want)
		}
	}
	if m, err = remembered(ctx, path, c, time.Now().Add(5*time.Hour)); err != nil || m == nil || m.Axis != nil {
		t.Errorf("five hours later: %+v, %v; want knobs and no axis", m, err)
	}
	day, _, end, err := beginNight(path, "0", c)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(day.Record(dayEvent{Event: "session", Kind: journal.Indoors}), end("rough")); err != nil {
		t.Fatal(err)
	}
	if m, err = remembered(ctx, path, c, time.Now()); err != nil || m == nil || m.Axis != nil {
		t.Errorf("after a day indoors: %+v, %v; want knobs and no axis", m, err)
	}
	c.Telescope.FocalLengthMM += 100
	m, err = remembered(ctx, path, c, time.Now())
	if err != nil || m == nil || m.PerTurn != [3]float64{} || m.Axis != nil || len(m.Reactions) == 0 {
		t.Errorf("another telescope: %+v, %v; want the person's pace and nothing else", m, err)
	}
}

// A first night hears the cautions, one that was cut off on the same visit goes on, and
// any other just begins.
func TestGreeting(t *testing.T) {
	path, now := filepath.Join(t.TempDir(), "j.db"), time.Now()
	begins := func(path string, later time.Duration) []string {
		return greeting(t.Context(), path, false, now.Add(later))
	}
	for _, none := range []string{path, "none"} {
		if got := begins(none, 0); !slices.Contains(got, "cautions") || !slices.Contains(got, "welcome") {
			t.Errorf("journal %q: a first night begins with %v", none, got)
		}
	}
	if got := greeting(t.Context(), "none", true, now); !slices.Equal(got, []string{"welcome"}) {
		t.Errorf("a virtual night without a journal begins with %v", got)
	}
	j, err := journal.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	n, err := j.Begin(journal.Start{At: now, Version: "0", Settings: config.Default().Tree()})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(n.Record(dayEvent{T: 60, Event: "session"}), n.Flush(), j.Close()); err != nil {
		t.Fatal(err)
	}
	if got := begins(path, time.Hour); !slices.Equal(got, []string{"resuming"}) {
		t.Errorf("cut off an hour ago: it begins with %v", got)
	}
	if got := begins(path, 20*time.Hour); !slices.Equal(got, []string{"starting"}) {
		t.Errorf("cut off the night before: it begins with %v", got)
	}
	_, _, end, err := beginNight(path, "0", config.Default())
	if err != nil {
		t.Fatal(err)
	}
	if err := end("aligned"); err != nil {
		t.Fatal(err)
	}
	if got := begins(path, time.Hour); !slices.Equal(got, []string{"starting"}) {
		t.Errorf("after a night that ended: it begins with %v", got)
	}
}

// What somebody has heard in full is remembered whatever the telescope.
func TestRemembersWhatWasHeard(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	now := time.Date(2026, 9, 4, 22, 0, 0, 0, time.UTC)
	n, _, end, err := beginNight(path, "0", config.Default())
	if err != nil {
		t.Fatal(err)
	}
	heard := []string{"other-side", "turn.loosen"}
	err = errors.Join(n.Record(struct {
		T      float64      `json:"t"`
		Event  string       `json:"event"`
		Memory coach.Memory `json:"memory"`
	}{5, "learned", coach.Memory{Heard: heard}}), end(""))
	if err != nil {
		t.Fatal(err)
	}
	another := config.Default()
	another.Telescope.ApertureMM++
	for _, c := range []config.Config{config.Default(), another} {
		m, err := remembered(context.Background(), path, c, now)
		if err != nil || m == nil || !slices.Equal(m.Heard, heard) {
			t.Errorf("remembers %+v, %v", m, err)
		}
	}
}
