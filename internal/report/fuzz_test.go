package report

import (
	"context"
	"encoding/json"
	"io"
	"path/filepath"
	"testing"

	"halocue/internal/journal"
)

// A journal is a file like any other: whatever its facts say, each format of the
// report is written, or it is said why not.
func FuzzReport(f *testing.F) {
	f.Add(`{"telescope":{"aperture_mm":200,"focal_length_mm":1000}}`, `{"t":1,"event":"measure","found":true,"known":true,"radius_px":1e-9,"axis_mm":{"x":1e300,"y":0},"tolerance_ratio":-1,"r0_mm":1e-300}`)
	f.Add(`[]`, `{"t":-1,"event":"say","action":"turn","text":"<script>"}`)
	f.Add(`{"telescope":{"aperture_mm":1e-300,"focal_length_mm":1e300}}`, `{"t":1e300,"event":"measure","known":true,"bound":1e308}`)
	f.Fuzz(func(t *testing.T, settings, event string) {
		if !json.Valid([]byte(settings)) || !json.Valid([]byte(event)) {
			return // the journal writes nothing else
		}
		j, err := journal.Open(filepath.Join(t.TempDir(), "j.db"))
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		n, err := j.Begin(journal.Start{At: evening, Settings: json.RawMessage(settings)})
		if err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if err := n.Record(json.RawMessage(event)); err != nil {
				break // no event
			}
		}
		if err := n.End(evening, ""); err != nil {
			return // it was told
		}
		night, err := Load(context.Background(), j, 0)
		if err != nil {
			return
		}
		for _, write := range []func(io.Writer) error{func(w io.Writer) error { return night.HTML(w, Look{}) }, func(w io.Writer) error { return WriteJSON(w, night) }, night.Markdown, night.Text} {
			_ = write(io.Discard) // an error is an answer, a panic is none
		}
		if all, err := Histories(context.Background(), j); err == nil {
			_ = WriteHistoryPage(io.Discard, all, Look{}, "test")
		}
	})
}
