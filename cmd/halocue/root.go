package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"halocue/config"
	"halocue/internal/run/session"
	"halocue/internal/setup"
)

// groups lists the commands by when they are used. A new command is a file of its own and a
// line here.
var groups = []struct {
	title    string
	commands []func(*app) *cobra.Command
}{
	{"At home, by day:", []func(*app) *cobra.Command{
		newSetupCommand, newCheckCommand, newPracticeCommand, newSoundsCommand, newIndoorsCommand}},
	{"Outside, by night:", []func(*app) *cobra.Command{
		newStarCommand, newCollimateCommand, newScaleCommand, newWobbleCommand, newSpikesCommand}},
	{"Afterwards:", []func(*app) *cobra.Command{
		newReportCommand, newHistoryCommand, newReplayCommand}},
	{"For the curious:", []func(*app) *cobra.Command{
		newDemoCommand, newMeasureCommand, newSettingsCommand, newManualCommand, newButtonsCommand, newVersionCommand}},
}

// usageError is a command line that was not understood.
type usageError struct{ error }

func isUsage(err error) bool {
	var usage usageError
	return errors.As(err, &usage)
}

func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "halocue",
		Short: "Hear your telescope's mirror come true",
		Long: `Halocue watches a defocused star through a camera at the focus of a Newtonian
reflector, and tells you by voice and by a tone which knob of the main mirror
to turn, which way, and when to stop.

Never point the telescope at the Sun.`,
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case len(args) > 0:
				return unknownCommand(cmd, args[0])
			case a.AtTerminal():
				step, more, err := session.Next(cmd.Context(), &a.World, setup.Locale(a.Env))
				if err == nil {
					_, err = fmt.Fprintf(a.Stdout, "%s\n%s\n", step, more)
				}
				return err
			}
			return cmd.Help()
		},
	}
	root.SetIn(a.Stdin)
	root.SetOut(a.Stdout)
	root.SetErr(a.Stderr)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return usageError{plainFlag(cmd, err)} })
	root.Flags().Bool("version", false, "tell which halocue this is")
	root.SetVersionTemplate("halocue {{.Version}}\n")
	plainHelp(root)
	cobra.EnableCommandSorting = false
	for _, g := range groups {
		root.AddGroup(&cobra.Group{ID: g.title, Title: g.title})
		for _, command := range g.commands {
			cmd := command(a)
			cmd.GroupID = g.title
			root.AddCommand(cmd)
		}
	}
	root.InitDefaultCompletionCmd("")
	plainCompletion(root)
	return root
}

// plainCompletion gives the completion command, which the library adds, help and errors in
// the style of the others.
func plainCompletion(root *cobra.Command) {
	cmd, _, err := root.Find([]string{"completion"})
	if err != nil || cmd == root {
		return
	}
	cmd.Short, cmd.Long, cmd.GroupID = "Print what has a shell complete commands and flags", "", groups[len(groups)-1].title
	cmd.Example = "halocue completion bash > ~/.local/share/bash-completion/completions/halocue"
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 {
			return unknownCommand(cmd, args[0])
		}
		return cmd.Help()
	}
	cmd.Args = cobra.ArbitraryArgs
	for _, sub := range cmd.Commands() {
		sub.Short = "For " + sub.Name()
	}
}

// unknownCommand returns the error for a word that is not a command below cmd, with the
// nearest that is.
func unknownCommand(cmd *cobra.Command, word string) error {
	var names []string
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() || sub.Name() == "help" {
			names = append(names, sub.Name())
		}
	}
	return usageError{fmt.Errorf("%q is not a command%s", word, theNearest("", word, names))}
}

// theNearest returns the end of an error about an unknown name: the nearest of names, or
// nothing.
func theNearest(dashes, word string, names []string) string {
	if name, ok := config.Nearest(word, names); ok {
		return fmt.Sprintf("; the nearest is %q", dashes+name)
	}
	return ""
}

// plainFlag puts an error of the flag library into words: an unknown name, a missing value,
// or a value of the wrong kind.
func plainFlag(cmd *cobra.Command, err error) error {
	var (
		unknown *pflag.NotExistError
		empty   *pflag.ValueRequiredError
		wrong   *pflag.InvalidValueError
	)
	switch {
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() == "":
		var names []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		word := unknown.GetSpecifiedName()
		return fmt.Errorf("%q is not a flag of %s%s", "--"+word, cmd.CommandPath(), theNearest("--", word, names))
	case errors.As(err, &unknown):
		return fmt.Errorf("%q is not a flag of %s; flags begin with two dashes", "-"+unknown.GetSpecifiedShortnames(), cmd.CommandPath())
	case errors.As(err, &empty):
		value, _ := pflag.UnquoteUsage(empty.GetFlag())
		return fmt.Errorf("--%s needs a value: --%s %s", empty.GetSpecifiedName(), empty.GetSpecifiedName(), value)
	case errors.As(err, &wrong):
		if f, ok := wrong.GetFlag().Value.(*settingFlag); ok { // the error names the setting
			return errors.New("--" + wrong.GetFlag().Name + strings.TrimPrefix(wrong.Unwrap().Error(), f.key.Path))
		}
		return fmt.Errorf("--%s %q: %w", wrong.GetFlag().Name, wrong.GetValue(), plainParser(wrong.Unwrap(), wrong.GetFlag().Value.Type()))
	}
	return err
}

// plainParser is the parser's error, in words.
func plainParser(err error, kind string) error {
	if !strings.Contains(err.Error(), "strconv.") {
		return err
	}
	switch {
	case strings.HasPrefix(kind, "float"):
		return errors.New("give a number")
	case kind == "bool":
		return errors.New("give true or false")
	}
	return errors.New("give a whole number")
}

func newVersionCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "Tell which halocue this is",
		Example: "halocue version",
		Args:    noArgs,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintln(a.Stdout, "halocue", version())
			return err
		},
	}
}

// number is the version that CHANGELOG.md describes; a test keeps the two equal.
const number = "0.1.0"

// release is set by the linker: the tag or the commit that was built.
var release = ""

// version is the number alone where the build is that version or does not say
// what it is, else with the commit.
func version() string {
	if release == "" || release == "v"+number {
		return number
	}
	return number + " (" + release + ")"
}

func newSettingsCommand(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "settings",
		Short: "Print the settings file with every built-in value",
		Long: `Prints a settings file that holds every setting, explained, at its built-in
value; with --profile or --config, at the value that it has there.`,
		Example: "mkdir -p ~/.config/halocue\nhalocue settings > ~/.config/halocue/halocue.toml\nhalocue settings --profile dobson",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if cmd.Flags().NFlag() == 0 {
				_, err := fmt.Fprint(a.Stdout, config.Shipped)
				return err
			}
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			text, err := config.Edit(config.Shipped, c)
			if err == nil {
				_, err = fmt.Fprint(a.Stdout, text)
			}
			return err
		},
	}
	settingFlags(cmd)
	return cmd
}

func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usageError{fmt.Errorf("%s takes no arguments, but there is %q", cmd.CommandPath(), args[0])}
	}
	return nil
}
