package main

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halocue/config"
	"halocue/internal/journal"
	"halocue/internal/virtual"
)

// A night teaches the next one with the same telescope, and no other; where the
// axis was proven counts for the same visit only.
func TestNightsTeach(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	var out, errs bytes.Buffer
	a := &app{stdin: strings.NewReader(""), stdout: &out, stderr: &errs}
	ctx := context.Background()
	night := []string{"guide", "--camera", "virtual:1", "--clock", "frames", "--sound", "none", "--voice", "none", "--journal", path}
	if status := a.run(ctx, night); status != 0 {
		t.Fatalf("status %d: %s", status, errs.String())
	}
	n := virtual.Demo(1)
	c := virtualSettings(config.Default(), n)
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
	day, end, err := beginNight(path, c)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(day.Record(session{Event: "session", Kind: journal.Indoors}), end("rough")); err != nil {
		t.Fatal(err)
	}
	if m, err = remembered(ctx, path, c, time.Now()); err != nil || m == nil || m.Axis != nil {
		t.Errorf("after a day indoors: %+v, %v; want knobs and no axis", m, err)
	}
	c.Telescope.FocalLengthMM += 100
	if m, err = remembered(ctx, path, c, time.Now()); err != nil || m != nil {
		t.Errorf("another telescope: %+v, %v", m, err)
	}
}
