package main

import (
	"fmt"
	"runtime/debug"
	"strings"

	"halocue/config"

	"github.com/spf13/cobra"
)

// commands makes each command; a new one is a file of its own and a line here.
var commands = []func(*app) *cobra.Command{
	newSettingsCommand,
	newSetupCommand,
	newIndoorsCommand,
	newGuideCommand,
	newCheckCommand,
	newStarCommand,
	newPracticeCommand,
	newDemoCommand,
	newSoundsCommand,
	newReplayCommand,
	newMeasureCommand,
	newSpikesCommand,
	newScaleCommand,
	newWobbleCommand,
	newReportCommand,
	newHistoryCommand,
	newManualCommand,
	newVersionCommand,
}

// usageError is a command line that was not understood.
type usageError struct{ error }

func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "halocue",
		Short: "Hear your telescope's mirror come true",
		Long: `Halocue watches a defocused star through a camera at the focus of a Newtonian
reflector, and tells you by voice and by a tone which knob of the main mirror
to turn, which way, and when to stop.

Never point the telescope at the Sun.`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("%q is not a command", args[0])}
			}
			return cmd.Help()
		},
	}
	root.SetIn(a.stdin)
	root.SetOut(a.stdout)
	root.SetErr(a.stderr)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{plainFlag(err)} })
	plainHelp(root)
	for _, command := range commands {
		root.AddCommand(command(a))
	}
	return root
}

// plainFlag says in words what a number wants, where the flag library tells of its parser.
func plainFlag(err error) error {
	text, parser, found := strings.Cut(err.Error(), ": strconv.")
	if !found {
		return err
	}
	want := "a whole number"
	if strings.HasPrefix(parser, "ParseFloat") {
		want = "a number"
	}
	return fmt.Errorf("%s: give %s", text, want)
}

func newVersionCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Tell which halocue this is",
		Args:  noArgs,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintln(a.stdout, "halocue", version())
			return err
		},
	}
}

// release is set by the linker for a packaged build.
var release = ""

func version() string {
	if release != "" {
		return release
	}
	if info, ok := debug.ReadBuildInfo(); ok {
		return info.Main.Version
	}
	return "(unknown)"
}

func newSettingsCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "settings",
		Short: "Print the settings file with every built-in value",
		Long: `Prints a settings file that holds every setting, explained, at its built-in
value. To make it yours:

  mkdir -p ~/.config/halocue
  halocue settings > ~/.config/halocue/halocue.toml`,
		Args: noArgs,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprint(a.stdout, config.Shipped)
			return err
		},
	}
}

func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usageError{fmt.Errorf("%s takes no arguments, but there is %q", cmd.CommandPath(), args[0])}
	}
	return nil
}
