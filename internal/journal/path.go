package journal

import (
	"path/filepath"

	"halocue/config"
)

// Path is where the journal of env's person is kept unless they say otherwise:
// halocue/journal.db in XDG_STATE_HOME, or in ~/.local/state.
func Path(env []string) string {
	if dir := config.Variable(env, "XDG_STATE_HOME"); dir != "" {
		return filepath.Join(dir, "halocue", "journal.db")
	}
	if home := config.Variable(env, "HOME"); home != "" {
		return filepath.Join(home, ".local", "state", "halocue", "journal.db")
	}
	return "journal.db"
}
