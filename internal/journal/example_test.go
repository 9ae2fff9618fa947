package journal_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"halocue/internal/journal"
)

// A night is written while it lasts, and read afterwards. Record never waits for the
// disk.
func Example() {
	if err := writeAndRead(); err != nil {
		fmt.Println(err)
	}
	// Output:
	// 2026-12-01 21:00:00 aligned
	//  1.5 say {"event":"say","t":1.5,"text":"Left-hand knob, tighten slightly."}
	// 60.0 done {"event":"done","result":"aligned","t":60}
}

func writeAndRead() error {
	dir, err := os.MkdirTemp("", "journal")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	j, err := journal.Open(filepath.Join(dir, "journal.db"))
	if err != nil {
		return err
	}
	defer j.Close()

	evening := time.Date(2026, 12, 1, 21, 0, 0, 0, time.UTC)
	night, err := j.Begin(journal.Start{At: evening, Version: "0.1.0"})
	if err != nil {
		return err
	}
	for _, event := range []map[string]any{
		{"t": 1.5, "event": "say", "text": "Left-hand knob, tighten slightly."},
		{"t": 60.0, "event": "done", "result": "aligned"},
	} {
		if err := night.Record(event); err != nil {
			return err
		}
	}
	if err := night.End(evening.Add(time.Minute), "aligned"); err != nil {
		return err
	}

	ctx := context.Background()
	last, err := j.Night(ctx, 0)
	if err != nil {
		return err
	}
	fmt.Println(last.Began.UTC().Format(time.DateTime), last.Result)
	facts, err := j.Facts(ctx, last.ID)
	if err != nil {
		return err
	}
	for _, f := range facts {
		fmt.Printf("%4.1f %s %s\n", f.T, f.Kind, f.Body)
	}
	return nil
}
