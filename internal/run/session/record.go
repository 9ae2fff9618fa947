package session

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"halocue/internal/journal"
	"halocue/internal/record"
	"halocue/internal/run"
	"halocue/internal/run/parts"
)

// recording begins to record the night, where that is wanted, and returns what ends it. A
// folder that was named and cannot be made ends the night before it begins; without the
// usual place the night goes on.
func (s *session) recording(ctx context.Context, p *run.Parts) (end func(result string), err error) {
	now := s.world.Now()
	folder, usual := s.Record, ""
	switch {
	case folder == "" && s.c.Journal.Record && p.Hands == nil:
		usual = filepath.Join(filepath.Dir(journal.Path(s.world.Env)), "nights")
		folder = free(record.Folder(usual, now)) // a clock that stood still gives a name twice
	case folder == "":
		return func(string) {}, nil
	case s.recorded:
		folder = free(folder)
	}
	s.recorded = true
	clock := "wall"
	if s.Frames {
		clock = "frames"
	}
	r, err := record.Begin(folder, record.Night{
		Version: s.Version, Machine: record.ThisMachine(s.world.Root), Began: now, Clock: clock, FPS: s.FPS, Virtual: p.Hands != nil,
		Settings: s.c.Tree(), Memory: p.Memory, Warn: p.Warn,
	}, record.Options{Most: s.mostRecorded(), Free: record.Free, Stopped: func(err error) {
		parts.Tell(s.events, run.DeviceEvent{Device: "recording", State: "lost", Detail: err.Error(), Code: "record-off", On: true})
	}})
	if err != nil {
		if s.Record != "" {
			return nil, err
		}
		s.world.Complain(err)
		p.Warn = append(p.Warn, "record-off")
		return func(string) {}, nil
	}
	p.Keep = r.Frame
	p.Transcript = run.NewTranscript(r)
	if s.transcript != nil {
		p.Transcript = run.NewTranscript(io.MultiWriter(s.transcript, r))
	}
	room := make(chan error, 1)
	go func() { // so many files may take their time
		room <- record.MakeRoom(usual, folder, s.mostRecorded(), time.Duration(s.c.Journal.RecordDays*24*float64(time.Hour)), now)
	}()
	return func(result string) {
		s.world.Complain(r.End(s.world.Now(), result))
		s.world.Complain(<-room)
		if p.Recorder != nil {
			s.world.Complain(keepRows(ctx, s.Journal, folder))
		}
	}, nil
}

// free is the folder's name, with a number where there is such a folder.
func free(folder string) string {
	name := folder
	for n := 2; ; n++ {
		if _, err := os.Stat(name); err != nil { // whatever else it is, record.Begin says
			return name
		}
		name = fmt.Sprintf("%s-%d", folder, n)
	}
}

// mostRecorded is half of what all recordings may take, bytes: for this night, and for
// those before it.
func (s *session) mostRecorded() int64 { return int64(s.c.Journal.RecordGB * 1e9 / 2) }

// keepRows copies the last night's rows of the journal into the recording.
func keepRows(ctx context.Context, path, folder string) error {
	ctx = context.WithoutCancel(ctx) // also of a night that was told to end
	j, err := journal.Read(path)
	if err != nil {
		return err
	}
	defer j.Close()
	night, err := j.Night(ctx, 0)
	if err != nil {
		return err
	}
	facts, err := j.Facts(ctx, night.ID)
	if err != nil {
		return err
	}
	row, err := json.Marshal(map[string]any{"event": "night", "began": night.Began, "ended": night.Ended, "version": night.Version, "result": night.Result})
	if err != nil {
		return err
	}
	rows := [][]byte{row}
	for _, f := range facts {
		rows = append(rows, f.Body)
	}
	return record.Keep(folder, rows)
}
