package journal

import (
	"cmp"

	"halocue/config"
)

// Path is where the journal of env's person is kept unless they say otherwise:
// halocue/journal.db in XDG_STATE_HOME, or in ~/.local/state.
func Path(env []string) string {
	return cmp.Or(config.InFolder(env, "XDG_STATE_HOME", ".local/state", "journal.db"), "journal.db")
}
