package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"syscall"

	"halocue/config"
	"halocue/internal/journal"
	"halocue/internal/plain"
	"halocue/internal/report"

	"github.com/spf13/cobra"
)

func newReportCommand(a *app) *cobra.Command {
	var path, format, output string
	var night int64
	var asJSON bool
	var look report.Look
	cmd := &cobra.Command{
		Use:   "report",
		Short: "Tell what a night was like, as a page, as text or as data",
		Long: `Tells from the journal what happened in a night, in the language of its voice: how far
off the mirror was, what was done, how true it is now; pictures of the star before and
after, and what each knob did.`,
		Example: `halocue report --output night.html
halocue report --red --output night.html
halocue report --format text --night 12`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if asJSON {
				format = "json"
			}
			write, ok := formats[format]
			if !ok {
				return usageError{fmt.Errorf("--format %q: choose html, text, md or json", format)}
			}
			c, one, err := a.oneTelescope(cmd)
			if err != nil {
				return err
			}
			return a.readJournal(cmd.Context(), path, func(ctx context.Context, j *journal.Journal) error {
				if night == 0 && one {
					if night, err = report.LastOf(ctx, j, c.Telescope.ApertureMM, c.Telescope.FocalLengthMM); err != nil {
						return err
					}
				}
				n, err := report.Load(ctx, j, night)
				if err != nil {
					return err
				}
				return a.output(output, func(w io.Writer) error { return write(n, w, look) })
			})
		},
	}
	settingFlags(cmd)
	cmd.Flags().BoolVar(&asJSON, "json", false, "as data; the same as --format json")
	cmd.Flags().StringVar(&path, "journal", "", "`FILE` of the journal, if it is not in its usual place")
	cmd.Flags().Int64Var(&night, "night", 0, "`NUMBER` of the night, 0 for the last")
	cmd.Flags().StringVar(&format, "format", "html", "`FORMAT`: html, text (to be read aloud), md or json")
	redFlag(cmd, &look)
	cmd.Flags().StringVarP(&output, "output", "o", "-", "`FILE` to write to, - for standard output")
	return cmd
}

func redFlag(cmd *cobra.Command, look *report.Look) {
	cmd.Flags().BoolVar(&look.Red, "red", false, "a deep red page, for eyes that are used to the dark")
}

// formats are the ways to write a night.
var formats = map[string]func(*report.Night, io.Writer, report.Look) error{
	"html": (*report.Night).HTML,
	"text": func(n *report.Night, w io.Writer, _ report.Look) error { return n.Text(w) },
	"md":   func(n *report.Night, w io.Writer, _ report.Look) error { return n.Markdown(w) },
	"json": func(n *report.Night, w io.Writer, _ report.Look) error { return report.WriteJSON(w, n) },
}

func newHistoryCommand(a *app) *cobra.Command {
	var path, output string
	var asJSON, asPage bool
	var look report.Look
	cmd := &cobra.Command{
		Use:   "history",
		Short: "Tell how well the telescope held its alignment from night to night",
		Long: `Tells how far off each night found the mirror and how it left it, which knob walks on
the way where the nights show it, and the seeing; with --page it draws them.`,
		Example: `halocue history
halocue history --page --output history.html`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, one, err := a.oneTelescope(cmd)
			if err != nil {
				return err
			}
			return a.readJournal(cmd.Context(), path, func(ctx context.Context, j *journal.Journal) error {
				all, err := report.Histories(ctx, j)
				if err != nil {
					return err
				}
				if one {
					all = slices.DeleteFunc(all, func(h *report.History) bool {
						return !h.Of(c.Telescope.ApertureMM, c.Telescope.FocalLengthMM)
					})
					if len(all) == 0 {
						return fmt.Errorf("this telescope: %w", journal.ErrNoNight)
					}
				}
				return a.output(output, func(w io.Writer) error {
					switch {
					case asJSON:
						return report.WriteJSON(w, all)
					case asPage:
						return report.WriteHistoryPage(w, all, look, version())
					}
					return report.WriteHistory(w, all)
				})
			})
		},
	}
	settingFlags(cmd)
	cmd.Flags().StringVar(&path, "journal", "", "`FILE` of the journal, if it is not in its usual place")
	cmd.Flags().BoolVar(&asJSON, "json", false, "as data")
	cmd.Flags().BoolVar(&asPage, "page", false, "as a page with drawings")
	cmd.Flags().StringVarP(&output, "output", "o", "-", "`FILE` to write to, - for standard output")
	redFlag(cmd, &look)
	return cmd
}

// oneTelescope returns the settings of the telescope that --profile or --config chooses;
// one is false where neither is given.
func (a *app) oneTelescope(cmd *cobra.Command) (c config.Config, one bool, err error) {
	if one = cmd.Flags().Changed("profile") || cmd.Flags().Changed("config"); one {
		c, err = a.settings(cmd)
	}
	return c, one, err
}

// readJournal opens the journal at path, or in its usual place, for use.
func (a *app) readJournal(ctx context.Context, path string, use func(context.Context, *journal.Journal) error) error {
	path = cmp.Or(path, journal.Path(a.Env))
	j, err := journal.Read(path)
	if err != nil {
		return err
	}
	return errors.Join(use(ctx, j), j.Damaged(), j.Close())
}

// output calls write with the file at path, or with standard output for "-".
func (a *app) output(path string, write func(io.Writer) error) error {
	if path == "-" {
		return write(a.Stdout)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC|syscall.O_NONBLOCK, 0o666) // a named pipe that nobody reads fails at once
	if err != nil {
		return fmt.Errorf("writing the report: %w; choose a place that can be written with --output", err)
	}
	return errors.Join(write(&plain.Writer{To: f}), f.Close())
}
