package main

import (
	"errors"
	"path/filepath"
	"time"

	"halocue/config"
	"halocue/internal/journal"
)

// journalPath is where the journal is kept unless --journal says otherwise:
// halocue/journal.db in XDG_STATE_HOME, or in ~/.local/state.
func journalPath(env []string) string {
	if dir := lookup(env, "XDG_STATE_HOME"); dir != "" {
		return filepath.Join(dir, "halocue", "journal.db")
	}
	if home := lookup(env, "HOME"); home != "" {
		return filepath.Join(home, ".local", "state", "halocue", "journal.db")
	}
	return "journal.db"
}

// beginNight opens the journal at path and begins a night in it. The function it
// returns ends both, with the night's result.
func beginNight(path string, c config.Config) (*journal.Night, func(result string) error, error) {
	j, err := journal.Open(path)
	if err != nil {
		return nil, nil, err
	}
	n, err := j.Begin(journal.Start{At: time.Now(), Version: version(), Settings: c.Tree()})
	if err != nil {
		return nil, nil, errors.Join(err, j.Close())
	}
	return n, func(result string) error { return errors.Join(n.End(time.Now(), result), j.Close()) }, nil
}
