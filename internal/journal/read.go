package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Entry is one night as it was kept.
type Entry struct {
	ID       int64
	Began    time.Time
	Ended    time.Time // zero where the night was cut off
	Version  string
	Result   string
	Settings json.RawMessage
}

// Fact is one thing that happened.
type Fact struct {
	T    float64 // seconds since the night's first frame
	Kind string
	Body json.RawMessage
}

// ErrNoNight says that the journal has no such night.
var ErrNoNight = errors.New("the journal has no such night: halocue history lists those there are")

// Nights lists the nights, the oldest first.
func (j *Journal) Nights(ctx context.Context) ([]Entry, error) {
	return j.entries(ctx, "ORDER BY id")
}

// Night returns the night of that number; 0 is the last.
func (j *Journal) Night(ctx context.Context, id int64) (Entry, error) {
	found, err := j.entries(ctx, "WHERE id = ?1 OR ?1 = 0 ORDER BY id DESC LIMIT 1", id)
	if err != nil {
		return Entry{}, err
	}
	if len(found) == 0 {
		return Entry{}, fmt.Errorf("night %d: %w", id, ErrNoNight)
	}
	return found[0], nil
}

func (j *Journal) entries(ctx context.Context, where string, args ...any) ([]Entry, error) {
	return query(ctx, j, "SELECT id, began, coalesce(ended, ''), version, result, settings FROM night "+where, args, func(rows *sql.Rows) (Entry, error) {
		var e Entry
		var began, ended, settings string
		if err := rows.Scan(&e.ID, &began, &ended, &e.Version, &e.Result, &settings); err != nil {
			return e, err
		}
		e.Settings = json.RawMessage(settings)
		var err error
		if e.Began, err = time.Parse(time.RFC3339, began); err == nil && ended != "" {
			e.Ended, err = time.Parse(time.RFC3339, ended)
		}
		return e, err
	})
}

// Facts lists what happened in a night, in order.
func (j *Journal) Facts(ctx context.Context, night int64) ([]Fact, error) {
	return query(ctx, j, "SELECT t, kind, body FROM fact WHERE night = ? ORDER BY id", []any{night}, func(rows *sql.Rows) (Fact, error) {
		var f Fact
		var body string
		err := rows.Scan(&f.T, &f.Kind, &body)
		f.Body = json.RawMessage(body)
		return f, err
	})
}

func query[T any](ctx context.Context, j *Journal, text string, args []any, scan func(*sql.Rows) (T, error)) ([]T, error) {
	rows, err := j.db.QueryContext(ctx, text, args...)
	if err != nil {
		return nil, fmt.Errorf("reading the journal %s: %w", j.path, err)
	}
	defer rows.Close()
	var list []T
	for rows.Next() {
		x, err := scan(rows)
		if err != nil {
			return nil, fmt.Errorf("reading the journal %s: %w", j.path, err)
		}
		list = append(list, x)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("reading the journal %s: %w", j.path, err)
	}
	return list, nil
}
