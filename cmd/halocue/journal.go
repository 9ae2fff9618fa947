package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"halocue/config"
	"halocue/internal/coach"
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

// sameVisit is how long the telescope may have stood since its last proof for a
// moved axis point to be the mirror's own doing, and no journey's.
const sameVisit = 2 * time.Hour

// remembered is what the newest night with this telescope, camera and mirror cell
// has taught, or nil. Whatever hinders it, the coach can learn anew: the error is
// for the log.
func remembered(ctx context.Context, path string, c config.Config, now time.Time) (*coach.Memory, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	j, err := journal.Read(path)
	if err != nil {
		return nil, err
	}
	defer j.Close()
	nights, err := j.Nights(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := json.Marshal(c.Tree()) // as the journal has it
	if err != nil {
		return nil, err
	}
	own, err := outfit(kept)
	if err != nil {
		return nil, err
	}
	turned := false
	for _, n := range slices.Backward(nights) {
		theirs, err := outfit(n.Settings)
		if err != nil {
			return nil, fmt.Errorf("reading the settings of night %d: %w", n.ID, err)
		}
		if theirs != own {
			continue
		}
		facts, err := j.Facts(ctx, n.ID)
		if err != nil {
			return nil, err
		}
		for _, f := range slices.Backward(facts) {
			turned = turned || f.Kind == "session" // by day, since then
			if f.Kind != "learned" {
				continue
			}
			var learned struct{ Memory coach.Memory }
			if err := json.Unmarshal(f.Body, &learned); err != nil {
				return nil, fmt.Errorf("reading what night %d taught: %w", n.ID, err)
			}
			if turned || now.Sub(n.Began.Add(time.Duration(f.T*float64(time.Second)))) > sameVisit {
				learned.Memory.Axis = nil
			}
			return &learned.Memory, nil
		}
	}
	return nil, nil
}

// outfit is what must be the same for a night to teach another: of its settings,
// telescope, camera and mirror cell.
func outfit(settings json.RawMessage) (string, error) {
	var tree map[string]map[string]any
	if err := json.Unmarshal(settings, &tree); err != nil {
		return "", err
	}
	delete(tree["camera"], "source")
	b, err := json.Marshal([]any{tree["telescope"], tree["camera"], tree["mirror_cell"]})
	return string(b), err
}
