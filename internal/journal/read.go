package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Entry is one night as it was kept.
type Entry struct {
	ID       int64
	Began    time.Time
	Ended    time.Time // zero where the night was cut off
	Version  string
	Result   string
	Lost     string // why not all of it was written: disk-full, failed, or ""
	Settings json.RawMessage
}

// Fact is one thing that happened.
type Fact struct {
	T    float64 // seconds since the night's first frame
	Kind string
	Body json.RawMessage
}

// What a file may have that somebody else wrote, bytes; a night of eight hours at ten
// looks a second has some 170 MB.
const (
	mostValue = 1 << 20
	mostFacts = 200 << 20 // of a night
)

// ErrNoNight says that the journal has no such night.
var ErrNoNight = errors.New("the journal has no such night: halocue history lists those there are")

// Nights lists the nights, the oldest first. Of a damaged journal it lists what can be
// read, and Damaged tells; so do Night and Facts.
func (j *Journal) Nights(ctx context.Context) ([]Entry, error) { return j.entries(ctx) }

// Night returns the night of that number; 0 is the last.
func (j *Journal) Night(ctx context.Context, id int64) (Entry, error) {
	all, err := j.entries(ctx)
	if err != nil {
		return Entry{}, err
	}
	for _, e := range slices.Backward(all) {
		if id == 0 || e.ID == id {
			return e, nil
		}
	}
	return Entry{}, errors.Join(fmt.Errorf("night %d: %w", id, ErrNoNight), j.Damaged())
}

func (j *Journal) entries(ctx context.Context) ([]Entry, error) {
	lost := "lost"
	if j.version < 2 {
		lost = "''"
	}
	return salvage(ctx, j, "SELECT id, began, coalesce(ended, ''), version, result, settings, "+lost+" FROM night %s WHERE id > ? AND octet_length(version) + octet_length(result) + octet_length(settings) <= ? ORDER BY id", "", []any{mostValue}, func(rows *sql.Rows) (Entry, int64, error) {
		var e Entry
		var began, ended, settings string
		if err := rows.Scan(&e.ID, &began, &ended, &e.Version, &e.Result, &settings, &e.Lost); err != nil {
			return e, e.ID, err
		}
		var tree map[string]any
		err := json.Unmarshal([]byte(settings), &tree)
		if err != nil { // the rest of the night is good
			j.found(err)
			settings = "{}"
		}
		e.Settings = json.RawMessage(settings)
		if e.Began, err = time.Parse(time.RFC3339, began); err == nil && ended != "" {
			e.Ended, err = time.Parse(time.RFC3339, ended)
		}
		return e, e.ID, err
	})
}

// Facts lists what happened in a night, in order.
func (j *Journal) Facts(ctx context.Context, night int64) ([]Fact, error) {
	room := mostFacts
	return salvage(ctx, j, "SELECT id, t, kind, body FROM fact %s WHERE id > ? AND night = ? AND octet_length(kind) + octet_length(body) <= ? ORDER BY id", "INDEXED BY fact_by_kind", []any{night, mostValue}, func(rows *sql.Rows) (Fact, int64, error) {
		var f Fact
		var id int64
		var body string
		err := rows.Scan(&id, &f.T, &f.Kind, &body)
		if f.Body = json.RawMessage(body); err == nil && !json.Valid(f.Body) {
			err = fmt.Errorf("fact %d is no JSON", id)
		}
		if room -= len(body) + 100; err == nil && room < 0 {
			err = fmt.Errorf("night %d has more than %d MB", night, mostFacts>>20)
		}
		return f, id, err
	})
}
