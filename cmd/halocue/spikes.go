package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/simulate/virtual"
	"halocue/vision/spikes"
	"halocue/vision/still"
)

// spikesFlags are the flags of spikes that are no settings.
type spikesFlags struct {
	clockFlags
	json   bool
	frames int
}

func newSpikesCommand(a *app) *cobra.Command {
	var g spikesFlags
	cmd := &cobra.Command{
		Use:   "spikes [FRAME...]",
		Short: "Tell from the spikes of a star in focus whether the secondary's vanes are straight",
		Long: `Measures the diffraction spikes of a bright star in focus: how many, which way,
and whether each is one line or two. A split spike tells that the vanes across it
are not in line: bent, twisted, or pulled by the secondary's holder. Spikes tell
nothing of the main mirror.

Frames, or a folder of them, are looks at one star. Without any the camera is
used, and the result is spoken too. Expose until the star itself is burnt out.
Never point the telescope at the Sun.`,
		Example: "halocue spikes\nhalocue spikes star-1.png star-2.png --json",
		Args:    cobra.ArbitraryArgs,
		RunE: a.with(func(cmd *cobra.Command, c config.Config, files []string) error {
			return a.spikes(cmd.Context(), c, g, files)
		}),
	}
	settingFlags(cmd, "telescope", "camera", "sound", "voice")
	f := cmd.Flags()
	f.BoolVar(&g.json, "json", false, "print a JSON line")
	g.add(cmd, 10)
	f.IntVar(&g.frames, "frames", 10, "`N` frames of the camera to look at")
	return cmd
}

func (a *app) spikes(ctx context.Context, c config.Config, g spikesFlags, files []string) error {
	var stack spikes.Stack
	t, err := a.newTool(c)
	if err != nil {
		return err
	}
	if len(files) > 0 {
		if err := stackFiles(&stack, files); err != nil {
			return err
		}
	} else {
		if !(g.frames >= 1 && g.frames <= 10000) {
			return usageError{fmt.Errorf("--frames %d: give 1 to 10000", g.frames)}
		}
		if t, err = a.openTool(ctx, c, g.clockFlags, virtual.InFocus); err != nil {
			return err
		}
		defer t.close()
		if err := t.say(ctx, t.words("spikes.begin")); err != nil {
			return err
		}
		read, err := stack.Take(ctx, t.Source, g.frames)
		if err := cmp.Or(err, t.unread(read)); err != nil {
			return err
		}
	}
	seen, aperture := stack.Measure(), t.c.Telescope.ApertureMM
	if g.json {
		report := spikes.NewReport(seen, stack.Frames(), seen.Words(t.english, aperture))
		if err := json.NewEncoder(a.Stdout).Encode(report); err != nil {
			return err
		}
	}
	for _, line := range seen.Words(t.words, aperture) {
		if err := t.result(ctx, g.json, line); err != nil {
			return err
		}
	}
	return nil
}

func stackFiles(stack *spikes.Stack, names []string) error {
	files, err := still.Files(names)
	if err != nil {
		return err
	}
	for _, name := range files {
		f, err := still.ReadFile(name)
		if err != nil {
			return err
		}
		if err := stack.Add(f); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return nil
}
