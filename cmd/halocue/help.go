package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

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
	root.SetHelpCommand(&cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Show the commands, or tell about one",
		Example: "halocue help star",
		RunE: func(_ *cobra.Command, args []string) error {
			cmd, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return unknownCommand(root, args[0])
			}
			cmd.InitDefaultHelpFlag()
			return cmd.Help()
		},
	})
}

func writeHelp(w io.Writer, cmd *cobra.Command) {
	for paragraph := range strings.SplitSeq(cmp.Or(cmd.Long, cmd.Short+"."), "\n\n") {
		fmt.Fprintf(w, "%s\n\n", fold(paragraph, ""))
	}
	fmt.Fprintln(w, fold("Usage: "+cmd.UseLine(), "  "))
	if cmd.Example != "" {
		fmt.Fprintf(w, "\nFor example:\n%s\n", cmd.Example)
	}
	if cmd.HasAvailableSubCommands() {
		writeCommands(w, cmd)
	}
	writeFlags(w, cmd)
}

// writeCommands lists the commands in groups: before a night, in a night, after it.
func writeCommands(w io.Writer, cmd *cobra.Command) {
	groups := cmd.Groups()
	if len(groups) == 0 {
		groups = []*cobra.Group{{Title: "Commands:"}}
	}
	for _, g := range groups {
		title := "\n" + g.Title + "\n"
		for _, sub := range cmd.Commands() {
			if sub.GroupID == g.ID && sub.IsAvailableCommand() {
				fmt.Fprintf(w, "%s%s\n", title, fold(sub.Name()+": "+sub.Short, "  "))
				title = ""
			}
		}
	}
	fmt.Fprintf(w, "\n%s COMMAND --help tells about one.\n", cmd.CommandPath())
}

// heading is the annotation of a flag with the heading that it stands under.
const heading = "heading"

// under puts flags of the command under a heading of the help.
func under(cmd *cobra.Command, title string, names ...string) {
	for _, name := range names {
		f := cmd.Flags().Lookup(name)
		if f.Annotations == nil {
			f.Annotations = map[string][]string{}
		}
		f.Annotations[heading] = []string{title}
	}
}

const (
	mainFlags = "Flags:"
	mostMain  = 10
)

// foremost are the settings that a command's help lists first, until it holds mostMain
// flags.
var foremost = []string{"camera", "latitude", "longitude", "aperture-mm", "focal-length-mm", "sound", "volume", "microphone", "language"}

// headings of the settings, by section.
var headings = []struct{ section, title string }{
	{"telescope", "The telescope:"}, {"camera", "The camera:"}, {"mirror_cell", "The mirror cell:"}, {"sound", "The sound:"},
	{"voice", "The voice:"}, {"coach", "The pace:"}, {"site", "The place:"}, {"board", "The computer:"}, {"drive", "Motors:"},
}

const besides = "Besides:"

// placed sorts the flags of a command under headings: first its own flags and the foremost
// settings, then flags for which the command has a heading, then the other settings by
// section.
func placed(cmd *cobra.Command) (titles []string, flags map[string][]*pflag.Flag) {
	flags = map[string][]*pflag.Flag{}
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		title := mainFlags
		if other := f.Annotations[heading]; other != nil {
			title = other[0]
		}
		if !f.Hidden && f.Name != "help" {
			flags[title] = append(flags[title], f)
		}
	})
	var first []*pflag.Flag
	for _, name := range foremost {
		f := cmd.Flags().Lookup(name)
		if f == nil || f.Hidden || f.Annotations[heading] == nil || len(first)+len(flags[mainFlags]) >= mostMain {
			continue
		}
		title := f.Annotations[heading][0]
		flags[title] = slices.DeleteFunc(flags[title], func(other *pflag.Flag) bool { return other == f })
		first = append(first, f)
	}
	flags[mainFlags] = append(first, flags[mainFlags]...)
	if help := cmd.Flags().Lookup("help"); help != nil {
		flags[mainFlags] = append(flags[mainFlags], help)
	}
	var settings []string
	for _, h := range headings {
		settings = append(settings, h.title)
	}
	settings = append(settings, besides)
	titles = []string{mainFlags}
	for _, title := range slices.Sorted(maps.Keys(flags)) {
		if title != mainFlags && !slices.Contains(settings, title) {
			titles = append(titles, title)
		}
	}
	return append(titles, settings...), flags
}

func writeFlags(w io.Writer, cmd *cobra.Command) {
	titles, flags := placed(cmd)
	for _, title := range titles {
		if len(flags[title]) > 0 {
			fmt.Fprintf(w, "\n%s\n", title)
		}
		for _, f := range flags[title] {
			writeFlag(w, f)
		}
	}
}

func writeFlag(w io.Writer, f *pflag.Flag) {
	value, help := pflag.UnquoteUsage(f)
	help = strings.TrimLeft(strings.TrimPrefix(help, value), ": ") // nobody wants to hear it twice
	name := strings.TrimSpace("--" + f.Name + " " + value)
	if f.Shorthand != "" {
		name = "-" + f.Shorthand + ", " + name
	}
	if !slices.Contains([]string{"", "0", "false", "[]"}, f.DefValue) {
		help += "; default " + f.DefValue
	}
	fmt.Fprintln(w, fold(name+": "+help, "  "))
}

// width is the longest line: a terminal or a braille display breaks longer ones within words.
const width = 79

// fold breaks text between words; what goes on begins with the indent.
func fold(text, indent string) string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(text) {
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line+word) < width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = indent + word
		}
	}
	return strings.Join(append(lines, line), "\n")
}
