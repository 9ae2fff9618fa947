package journal

import (
	"database/sql"
	"path/filepath"
	"testing"
)

// A database of another program is told from one whose program was ended before it had made a
// table, by its tables and by its version alone.
func TestLookTellsWhoseFileItIs(t *testing.T) {
	for name, c := range map[string]struct {
		made []string
		want kind
	}{
		"a table":            {[]string{"CREATE TABLE other (x)"}, foreign},
		"a table, a version": {[]string{"CREATE TABLE other (x)", "PRAGMA user_version = 1"}, foreign},
		"none any more":      {[]string{"CREATE TABLE other (x)", "DROP TABLE other", "VACUUM"}, empty},
		"ours":               {[]string{schema, "PRAGMA user_version = 1"}, ours},
	} {
		path := filepath.Join(t.TempDir(), "journal.db")
		db, err := sql.Open("sqlite", path)
		if err != nil {
			t.Fatal(err)
		}
		for _, statement := range c.made {
			if _, err := db.Exec(statement); err != nil {
				t.Fatalf("%s: %v", statement, err)
			}
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if got, _, err := look(path); err != nil || got != c.want {
			t.Errorf("%s: %v, %v; want %v", name, got, err, c.want)
		}
	}
}
