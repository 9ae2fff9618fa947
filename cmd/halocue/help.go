package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// plainHelp gives the command and all below it a help text that a screen reader
// reads well: one thing a line, nothing aligned in columns, no drawn lines.
func plainHelp(root *cobra.Command) {
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { writeHelp(cmd.OutOrStdout(), cmd) })
	root.SetUsageFunc(func(cmd *cobra.Command) error {
		writeHelp(cmd.OutOrStderr(), cmd)
		return nil
	})
}

func writeHelp(w io.Writer, cmd *cobra.Command) {
	text := cmd.Long
	if text == "" {
		text = cmd.Short + "."
	}
	fmt.Fprintf(w, "%s\n\nUsage: %s\n", text, cmd.UseLine())
	if cmd.Example != "" {
		fmt.Fprintf(w, "\nExamples:\n%s\n", cmd.Example)
	}
	if cmd.HasAvailableSubCommands() {
		fmt.Fprintln(w, "\nCommands:")
		for _, sub := range cmd.Commands() {
			if sub.IsAvailableCommand() {
				fmt.Fprintf(w, "%s: %s\n", sub.Name(), sub.Short)
			}
		}
		fmt.Fprintf(w, "\n%s COMMAND --help tells about one.\n", cmd.CommandPath())
	}
	writeFlags(w, cmd)
}

func writeFlags(w io.Writer, cmd *cobra.Command) {
	if !cmd.HasAvailableFlags() {
		return
	}
	fmt.Fprintln(w, "\nFlags:")
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		value, help := pflag.UnquoteUsage(f)
		name := strings.TrimSpace("--" + f.Name + " " + value)
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", " + name
		}
		fmt.Fprintf(w, "%s: %s\n", name, help)
	})
}
