package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"halocue/internal/journal"
	"halocue/internal/report"

	"github.com/spf13/cobra"
)

func newReportCommand(a *app) *cobra.Command {
	var path, format, output string
	var night int64
	cmd := &cobra.Command{
		Use:   "report",
		Short: "Tell what a night was like, as a page, as text or as data",
		Long: `Tells from the journal what happened in a night: the words, the way of the axis
point into the tolerance, coma and seeing against time, the ring before and after.`,
		Example: `  halocue report --output night.html
  halocue report --format md --night 12`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			write, ok := formats[format]
			if !ok {
				return usageError{fmt.Errorf("--format %q: choose html, md or json", format)}
			}
			return a.readJournal(cmd.Context(), path, func(ctx context.Context, j *journal.Journal) error {
				n, err := report.Load(ctx, j, night)
				if err != nil {
					return err
				}
				return a.output(output, func(w io.Writer) error { return write(n, w) })
			})
		},
	}
	cmd.Flags().StringVar(&path, "journal", "", "`FILE` of the journal, if it is not in its usual place")
	cmd.Flags().Int64Var(&night, "night", 0, "`NUMBER` of the night, 0 for the last")
	cmd.Flags().StringVar(&format, "format", "html", "`FORMAT`: html, md or json")
	cmd.Flags().StringVarP(&output, "output", "o", "-", "`FILE` to write to, - for standard output")
	return cmd
}

var formats = map[string]func(*report.Night, io.Writer) error{
	"html": (*report.Night).HTML, "md": (*report.Night).Markdown, "json": (*report.Night).JSON,
}

func newHistoryCommand(a *app) *cobra.Command {
	var path string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "history",
		Short: "Tell how well the telescope held its alignment from night to night",
		Args:  noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.readJournal(cmd.Context(), path, func(ctx context.Context, j *journal.Journal) error {
				all, err := report.Histories(ctx, j)
				if err != nil {
					return err
				}
				if asJSON {
					return report.WriteHistoryJSON(a.stdout, all)
				}
				return report.WriteHistory(a.stdout, all)
			})
		},
	}
	cmd.Flags().StringVar(&path, "journal", "", "`FILE` of the journal, if it is not in its usual place")
	cmd.Flags().BoolVar(&asJSON, "json", false, "as data")
	return cmd
}

// readJournal opens the journal at path, or in its usual place, for use.
func (a *app) readJournal(ctx context.Context, path string, use func(context.Context, *journal.Journal) error) error {
	if path == "" {
		path = journalPath(a.env)
	}
	j, err := journal.Read(path)
	if err != nil {
		return err
	}
	return errors.Join(use(ctx, j), j.Close())
}

// output has write fill a file, or standard output for -.
func (a *app) output(path string, write func(io.Writer) error) error {
	if path == "-" {
		return write(a.stdout)
	}
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("writing the report: %w; choose a place that can be written with --output", err)
	}
	return errors.Join(write(f), f.Close())
}
