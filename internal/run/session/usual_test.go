package session

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"halocue/config"
	"halocue/internal/observe"
	"halocue/internal/record"
	"halocue/internal/run"
	"halocue/internal/run/parts"
	"halocue/vision/frame"
)

// With record = true each night has a folder of its own beside the journal. One that has
// used up its room says so, one whose clock stands still has another name, and one that cannot be recorded is said and goes on.
func TestRecordingInTheUsualPlace(t *testing.T) {
	state := t.TempDir()
	at := time.Date(2026, 12, 1, 20, 0, 0, 0, time.UTC)
	var printed strings.Builder
	w := &parts.World{Stderr: &printed, Env: []string{"XDG_STATE_HOME=" + state}, Clock: func() time.Time { return at }}
	s := session{world: w, c: config.Default(), events: make(chan run.DeviceEvent, 8)}
	s.c.Journal.Record, s.c.Journal.RecordGB = true, 1e-9
	for range 2 {
		var p run.Parts
		end, err := s.recording(t.Context(), &p)
		if err != nil || p.Keep == nil || p.Transcript == nil || len(p.Warn) > 0 {
			t.Fatalf("%+v, %v", p, err)
		}
		f := frame.New(64, 48)
		p.Keep(0, f, observe.Sight{})
		p.Keep(2, f, observe.Sight{})
		end("aligned")
	}
	folders, err := Recordings([]string{filepath.Join(state, "halocue", "nights")})
	if err != nil || len(folders) != 2 || len(s.events) != 2 || printed.Len() > 0 {
		t.Fatalf("%q, %v, %d events, %q", folders, err, len(s.events), printed.String())
	}
	if e := <-s.events; e.Code != "record-off" || !e.On || !strings.Contains(e.Detail, "record_gb") {
		t.Errorf("%+v", e)
	}
	for _, folder := range folders {
		if n, remark, err := record.Read(folder); err != nil || remark != "" || n.Frames != 1 || n.Result != "aligned" {
			t.Errorf("%+v, %q, %v", n, remark, err)
		}
	}
	nights := filepath.Join(state, "halocue", "nights")
	if err := os.Rename(nights, nights+"-before"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(nights, nil, 0o600); err != nil { // a file in its place
		t.Fatal(err)
	}
	var p run.Parts
	if end, err := s.recording(t.Context(), &p); err != nil || !slices.Contains(p.Warn, "record-off") || p.Keep != nil {
		t.Errorf("%+v, %v", p, err)
	} else {
		end("")
	}
	s.Record = filepath.Join(nights, "mine")
	if _, err := s.recording(t.Context(), &p); err == nil || !strings.Contains(err.Error(), "name a folder") {
		t.Errorf("a folder that was named: %v", err)
	}
}
