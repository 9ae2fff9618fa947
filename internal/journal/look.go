package journal

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What a file is, by its bytes alone. Nothing of it is opened as a database before
// that is known: opening alone can change a file.
type kind int

const (
	missing kind = iota
	empty
	ours
	foreign  // some other program's, or no database at all
	unusable // ours, and so damaged that it cannot be opened
)

// Places in the header of an SQLite file (sqlite.org/fileformat2.html, 1.3).
const (
	magic     = "SQLite format 3\x00"
	atVersion = 60  // user_version
	atTables  = 103 // how many there are in the list of tables, two bytes (1.6)
	headBytes = 108
)

// searched is how far the traces of a journal are looked for in a file without a header.
const searched = 4 << 20

// look says what the file at path is, and its version.
func look(path string) (kind, int, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return missing, 0, nil
	case err != nil:
		return missing, 0, err
	case !info.Mode().IsRegular():
		return foreign, 0, errors.New("it is not a file")
	case info.Size() == 0:
		return empty, 0, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return missing, 0, err
	}
	defer f.Close()
	start, err := io.ReadAll(io.LimitReader(f, searched))
	if err != nil {
		return missing, 0, err
	}
	traces := bytes.Contains(start, []byte("CREATE TABLE night (")) || bytes.Contains(start, []byte(`"event":"measure"`)) || bytes.Contains(start, []byte(`"event":"say"`))
	if len(start) < headBytes || !bytes.HasPrefix(start, []byte(magic)) {
		if traces {
			return unusable, 0, nil
		}
		return foreign, 0, nil
	}
	version := int(int32(binary.BigEndian.Uint32(start[atVersion:])))
	switch {
	case version == 0 && (traces || logged(path)): // a new one's tables, and its version, stand in its log at first
		return ours, format, nil
	case version == 0 && start[atTables] == 0 && start[atTables+1] == 0: // its program was ended before it had made any
		return empty, 0, nil
	case version == 0, version > 0 && version <= format && !traces && !logged(path):
		return foreign, 0, nil
	}
	return ours, version, nil
}

// logged reports whether there is a write-ahead log with something in it.
func logged(path string) bool {
	info, err := os.Stat(path + "-wal")
	return err == nil && info.Size() > 0
}

// used reports whether a program has the journal open, or was ended while it had: the
// log is there then.
func used(path string) bool {
	_, err := os.Stat(path + "-wal")
	return err == nil
}

// damage reports whether err says that the file is not as it was written.
func damage(err error) bool {
	var said *sqlite.Error
	if !errors.As(err, &said) {
		return false
	}
	switch said.Code() & 0xff {
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT:
		return true
	}
	return false
}

// patience is how long the check at the start of a night may take, because somebody waits in
// the dark for a large journal on a slow card.
const patience = 3 * time.Second

// whole checks as much of the journal as can be read in time.
func (j *Journal) whole() error {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	var verdict string
	err := j.db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&verdict)
	switch {
	case ctx.Err() != nil:
		return nil
	case err != nil:
		return err
	case verdict != "ok":
		return fmt.Errorf("%w: %s", ErrDamaged, verdict)
	}
	var triggers int // ours has none, and writing would do what they say
	if err := j.db.QueryRow("SELECT count(*) FROM sqlite_schema WHERE type = 'trigger'").Scan(&triggers); err != nil || triggers > 0 {
		return cmp.Or(err, fmt.Errorf("%w: it has triggers", ErrDamaged))
	}
	// Of our tables every column that is written must be there.
	for _, q := range []string{"SELECT id, began, ended, version, result, settings, lost FROM night LIMIT 0",
		"SELECT id, night, t, kind, body FROM fact LIMIT 0", "SELECT night, name, t, marks, png FROM picture LIMIT 0"} {
		rows, err := j.db.QueryContext(ctx, q)
		if err != nil {
			return err
		}
		if err := rows.Close(); err != nil {
			return err
		}
	}
	return nil
}

// setAside gives the file and its log another name, which it returns.
func setAside(path string) (string, error) {
	for n := 1; n < 1000; n++ {
		aside := fmt.Sprintf("%s.damaged-%d", path, n)
		if _, err := os.Lstat(aside); !errors.Is(err, os.ErrNotExist) {
			continue
		}
		for _, end := range []string{"-wal", "-shm"} {
			if err := os.Rename(path+end, aside+end); err != nil && !errors.Is(err, os.ErrNotExist) {
				return "", err
			}
		}
		return aside, os.Rename(path, aside)
	}
	return "", errors.New("a thousand damaged ones are kept already")
}

// salvage reads what rows a damaged file still gives. The query asks for rows whose number
// is above a parameter, in the order of the numbers; %s in it takes an index clause. When
// reading breaks off, salvage asks again without the index, and then from further on. The
// first damage is kept in j.
func salvage[T any](ctx context.Context, j *Journal, text, index string, args []any, scan func(*sql.Rows) (T, int64, error)) ([]T, error) {
	var list []T
	last, skip := int64(0), int64(0)
	query := fmt.Sprintf(text, index)
	for last+skip < 1<<40 {
		before := len(list)
		rows, err := j.db.QueryContext(ctx, query, append([]any{last + skip}, args...)...)
		if err == nil {
			for rows.Next() {
				x, id, bad := scan(rows)
				if id > 0 {
					last, skip = id, 0
				}
				if bad != nil {
					j.found(bad) // this row alone
					continue
				}
				list = append(list, x)
			}
			err = errors.Join(rows.Err(), rows.Close())
		}
		switch {
		case err == nil:
			return list, nil
		case !damage(err):
			return nil, fmt.Errorf("reading the journal %s: %w; close what else uses it", j.path, err)
		}
		j.found(err)
		if index != "" { // what is listed twice is damage too
			index, list, last, skip = "", nil, 0, 0
			query = fmt.Sprintf(text, "NOT INDEXED")
			continue
		}
		if len(list) == before {
			skip = 2*skip + 1
		} else {
			skip = 1
		}
	}
	return list, nil
}

// found keeps the first damage.
func (j *Journal) found(err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.damaged == nil {
		j.damaged = fmt.Errorf("the journal %s is %w (%w); what could be read of it is shown, and the next night begins a new one", j.path, ErrDamaged, err)
	}
}

// Damaged is the first damage that reading met, else nil.
func (j *Journal) Damaged() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.damaged
}
