// Package journal keeps what happened, night by night, in one SQLite file.
//
// Each fact is a transaction of its own, so that the file is whole however the program
// ends. The write-ahead log is flushed to the disk at checkpoints: a kill loses nothing
// that was written, a power cut at most the last moments.
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
	"sync"
)

//go:embed schema.sql
var schema string

//go:embed step2.sql
var step2 string

// steps bring a file from each format to the next; the first makes a new file. A step that
// has been released is never changed.
var steps = []string{schema, step2}

// format is the version of the schema, kept in the file's user_version: how many steps
// the file has taken. Older ones are read as they are, and brought up to it by Open.
var format = len(steps)

// ErrNone says that there is no journal at the path.
var ErrNone = errors.New("there is no journal yet; the first halocue collimate makes it")

// ErrDamaged says that the file is not as it was written.
var ErrDamaged = errors.New("damaged")

// Journal is an open journal. Its methods may be called from any goroutine.
type Journal struct {
	db      *sql.DB
	path    string
	version int // the file's format

	// Aside is where a damaged journal was put that stood at the path; "" for none.
	Aside string

	mu      sync.Mutex
	damaged error
}

// Open opens the journal at path and makes it where there is none. A damaged one is
// kept under another name, and a new one begun: see Aside. Another program's file is
// left as it is.
func Open(path string) (*Journal, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, fmt.Errorf("making a place for the journal: %w; choose another with --journal, or none", err)
	}
	is, version, err := look(path)
	if err == nil && is == foreign {
		err = errForeign
	}
	if err == nil && is == ours {
		err = checkVersion(version)
	}
	if err == nil && is == ours && logged(path) { // a connection that writes takes the log in as it ends
		err = probe(path)
	}
	if err != nil {
		return nil, fmt.Errorf("opening the journal %s: %w; choose another with --journal, or none", path, err)
	}
	if is != unusable {
		j, err := openWhole(path)
		if err == nil || !errors.Is(err, ErrDamaged) && !damage(err) {
			return j, err
		}
	}
	aside, err := setAside(path)
	if err != nil {
		return nil, fmt.Errorf("the journal %s is damaged, and cannot be put aside: %w; move it away, or choose another with --journal", path, err)
	}
	j, err := openWhole(path)
	if err == nil {
		j.Aside = aside
	}
	return j, err
}

// probe refuses a database whose log says that it is another program's.
func probe(path string) error {
	j, err := connect(path, "ro")
	if err != nil {
		return err
	}
	defer j.db.Close()
	var tables int
	err = j.db.QueryRow("SELECT count(*) FROM sqlite_schema").Scan(&tables)
	if err == nil && tables > 0 {
		err = j.checkFormat()
	}
	if damage(err) {
		return nil // to be put aside
	}
	return err
}

// openWhole opens a journal that is there and whole, or makes it.
func openWhole(path string) (*Journal, error) {
	j, err := connect(path, "rwc")
	if err != nil {
		return nil, err
	}
	if err = j.prepare(); err == nil {
		err = j.whole()
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("opening the journal %s: %w; choose another with --journal, or none", path, err), j.db.Close())
	}
	return j, nil
}

var errForeign = errors.New("it is some other program's file")

// Read opens the journal at path to look at, or answers ErrNone. Nothing is changed
// by that, in the file or beside it.
func Read(path string) (*Journal, error) {
	is, version, err := look(path)
	switch {
	case err != nil:
	case is == missing:
		return nil, fmt.Errorf("%s: %w", path, ErrNone)
	case is == empty:
		return nil, fmt.Errorf("%s is empty: %w", path, ErrNone)
	case is == foreign:
		err = errForeign
	case is == unusable:
		err = fmt.Errorf("it is %w from its first bytes on, and the next night begins a new one", ErrDamaged)
	default:
		err = checkVersion(version)
	}
	if err != nil {
		return nil, fmt.Errorf("reading the journal %s: %w; name another with --journal", path, err)
	}
	mode := "ro"
	if !used(path) {
		mode = "immutable" // so that no log is made beside it, nor needed in a folder that cannot be written
	}
	j, err := connect(path, mode)
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
	query := url.Values{"mode": {mode}, "_txlock": {"immediate"}, "_pragma": {"busy_timeout(5000)", "foreign_keys(1)"}}
	switch mode {
	case "immutable":
		query.Set("mode", "ro")
		query.Set("immutable", "1")
	case "rwc":
		query["_pragma"] = append(query["_pragma"], "journal_mode(WAL)", "synchronous(NORMAL)")
	}
	db, err := sql.Open("sqlite", "file:"+url.PathEscape(path)+"?"+query.Encode())
	if err != nil {
		return nil, fmt.Errorf("opening the journal %s: %w", path, err)
	}
	return &Journal{db: db, path: path}, nil
}

// prepare makes the tables of a new file, brings an older journal to this format, and refuses
// a file that is no journal.
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
	if tables == 0 {
		version = 0
	} else if err := checkVersion(version); err != nil {
		return err
	}
	for ; version < format; version++ {
		if _, err := tx.Exec(steps[version] + fmt.Sprintf("PRAGMA user_version = %d", version+1)); err != nil {
			return fmt.Errorf("bringing it to format %d: %w", version+1, err)
		}
	}
	j.version = format
	return tx.Commit()
}

func (j *Journal) checkFormat() error {
	var version, tables int
	if err := j.db.QueryRow("SELECT user_version, (SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name IN ('night', 'fact')) FROM pragma_user_version").Scan(&version, &tables); err != nil {
		return err
	}
	if version > 0 && version <= format && tables != 2 {
		return errForeign
	}
	j.version = version
	return checkVersion(version)
}

func checkVersion(version int) error {
	switch {
	case version > 0 && version <= format:
		return nil
	case version == 0:
		return errForeign
	default:
		return fmt.Errorf("it has format %d, of a newer halocue, and this one knows %d: use the newer one", version, format)
	}
}

// Check returns an error if the file is damaged.
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
