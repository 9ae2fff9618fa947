package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// newManualCommand makes the command that writes man pages and shell completions for the
// Debian package.
func newManualCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "manual FOLDER",
		Short:   "Write man pages and shell completions into a folder, for packages",
		Hidden:  true,
		Example: "halocue manual out/manual",
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usageError{errors.New("manual needs a FOLDER to write to")}
			}
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return fmt.Errorf("making the folder: %w; choose another", err)
			}
			root := cmd.Root()
			root.DisableAutoGenTag = true // a date would make each build another
			in := func(name string) string { return filepath.Join(args[0], name) }
			if err := doc.GenManTree(root, &doc.GenManHeader{Section: "1", Source: "halocue", Manual: "Halocue"}, args[0]); err != nil {
				return fmt.Errorf("writing the man pages: %w; choose a folder that can be written", err)
			}
			for name, write := range map[string]func(string) error{
				"halocue.bash": func(f string) error { return root.GenBashCompletionFileV2(f, true) },
				"_halocue":     root.GenZshCompletionFile,
				"halocue.fish": func(f string) error { return root.GenFishCompletionFile(f, true) },
			} {
				if err := write(in(name)); err != nil {
					return fmt.Errorf("writing the completions: %w; choose a folder that can be written", err)
				}
			}
			return nil
		},
	}
}
