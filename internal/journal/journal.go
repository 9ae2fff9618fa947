// Package journal keeps what happened, night by night, in one SQLite file.
//
// Each fact is a transaction of its own, so that whatever ends the program, all
// that was kept is there and the file is whole. The write-ahead log is flushed
// to the disk at checkpoints: a kill loses nothing that was kept, a power cut at
// most the last moments.
package journal

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
)

//go:embed schema.sql
var schema string

// format is the version of the schema, kept in the file's user_version.
const format = 1

// ErrNone says that there is no journal at the path.
var ErrNone = errors.New("there is no journal yet: guide a night with --journal FILE first")

// Journal is an open journal. Its methods may be called from any goroutine.
type Journal struct {
	db   *sql.DB
	path string
}

// Open opens the journal at path and makes it where there is none.
func Open(path string) (*Journal, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, fmt.Errorf("making a place for the journal: %w; choose another with --journal, or none", err)
	}
	j, err := connect(path, "rwc")
	if err != nil {
		return nil, err
	}
	if err := j.prepare(); err != nil {
		return nil, errors.Join(fmt.Errorf("opening the journal %s: %w; choose another with --journal, or none", path, err), j.db.Close())
	}
	return j, nil
}

// Read opens the journal at path to look at, or answers ErrNone.
func Read(path string) (*Journal, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("%s: %w", path, errors.Join(ErrNone, err))
	}
	j, err := connect(path, "rw") // rw, for a log left behind by a kill must be taken in
	if err != nil {
		return nil, err
	}
	if err := j.checkFormat(); err != nil {
		return nil, errors.Join(fmt.Errorf("reading the journal %s: %w; name another with --journal", path, err), j.db.Close())
	}
	return j, nil
}

// connect opens the database with the settings that every connection must have,
// which is why they are in its name.
func connect(path, mode string) (*Journal, error) {
	query := url.Values{"mode": {mode}, "_txlock": {"immediate"}, "_pragma": {
		"busy_timeout(5000)", "journal_mode(WAL)", "synchronous(NORMAL)", "foreign_keys(1)",
	}}
	db, err := sql.Open("sqlite", "file:"+url.PathEscape(path)+"?"+query.Encode())
	if err != nil {
		return nil, fmt.Errorf("opening the journal %s: %w", path, err)
	}
	return &Journal{db: db, path: path}, nil
}

// prepare makes the tables of a new file, and refuses one that is not ours.
func (j *Journal) prepare() error {
	tx, err := j.db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	var version, tables int
	if err := tx.QueryRow("SELECT (SELECT user_version FROM pragma_user_version), count(*) FROM sqlite_schema").Scan(&version, &tables); err != nil {
		return err
	}
	if tables > 0 {
		return checkVersion(version)
	}
	if _, err := tx.Exec(schema + fmt.Sprintf("PRAGMA user_version = %d", format)); err != nil {
		return err
	}
	return tx.Commit()
}

func (j *Journal) checkFormat() error {
	var version int
	if err := j.db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	return checkVersion(version)
}

func checkVersion(version int) error {
	switch {
	case version == format:
		return nil
	case version == 0:
		return errors.New("it is some other program's database")
	default:
		return fmt.Errorf("it has format %d, and this halocue knows %d", version, format)
	}
}

// Check tells whether the file is whole.
func (j *Journal) Check(ctx context.Context) error {
	var verdict string
	if err := j.db.QueryRowContext(ctx, "PRAGMA integrity_check").Scan(&verdict); err != nil {
		return fmt.Errorf("checking the journal: %w", err)
	}
	if verdict != "ok" {
		return fmt.Errorf("the journal %s is damaged: %s; move it away, and a new one will be made", j.path, verdict)
	}
	return nil
}

// Close closes the journal; nights that are being written must have ended.
func (j *Journal) Close() error {
	if err := j.db.Close(); err != nil {
		return fmt.Errorf("closing the journal: %w", err)
	}
	return nil
}
