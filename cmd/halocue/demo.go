package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/run"
	"halocue/internal/run/session"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
	"halocue/vision"
)

// demoWAV is where the demonstration goes on where there is no sound device.
const demoWAV = "demo.wav"

func newDemoCommand(a *app) *cobra.Command {
	var fast bool
	var seed uint64
	var whose string
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Hear a whole night on the built-in virtual telescope",
		Long: `Collimates a virtual telescope from beginning to end: what you hear is what you
would hear in the field. A pair of clumsy virtual hands turns the knobs. The
words are printed as they are said.

With --fast it runs as quickly as it can, into demo.wav, which you can play.`,
		Example: "halocue demo\nhalocue demo --fast --seed 3",
		Args:    noArgs,
		RunE: a.with(func(cmd *cobra.Command, c config.Config, _ []string) error {
			return a.demo(cmd.Context(), c, seed, whose, fast)
		}),
	}
	settingFlags(cmd, "sound", "voice", "coach")
	cmd.Flags().BoolVar(&fast, "fast", false, "as quickly as it can, into "+demoWAV)
	cmd.Flags().StringVar(&whose, "person", "", "`NAME` of the person whose hands they are; a name that is none lists them")
	cmd.Flags().Uint64Var(&seed, "seed", 1, "`N` of the night; each is another")
	return cmd
}

func (a *app) demo(ctx context.Context, c config.Config, seed uint64, whose string, fast bool) error {
	if fast && c.Sound.Output == "default" {
		c.Sound.Output = demoWAV
	}
	src, out, err := a.demoNight(ctx, c, seed, whose, fast)
	if errors.Is(err, device.ErrNoDevice) {
		fmt.Fprintf(a.Stderr, "halocue: %v\nThe demonstration goes on into %s.\n", err, demoWAV)
		c.Sound.Output, fast = demoWAV, true
		src, out, err = a.demoNight(ctx, c, seed, whose, fast)
	}
	if err != nil || out.Result == "" {
		return err
	}
	t := src.Night().Telescope
	off := r2.Norm(src.Truth().Axis) / t.Tolerance()
	fmt.Fprintf(a.Stdout, "\nResult: %s. In truth the axis is %.2f tolerances off, a wavefront error of %.3f waves RMS.\n",
		out.Result, off, t.ComaRMS(off*t.Tolerance()))
	if fast && c.Sound.Output != "none" {
		fmt.Fprintf(a.Stdout, "To hear it: play %s.\n", c.Sound.Output)
	}
	return nil
}

func (a *app) demoNight(ctx context.Context, c config.Config, seed uint64, whose string, fast bool) (*telescope.Source, run.Outcome, error) {
	n := virtual.Night(seed, c)
	if err := virtual.Hands(&n, whose); err != nil {
		return nil, run.Outcome{}, usageError{fmt.Errorf("--person: %w", err)}
	}
	src := telescope.NewSource(n, virtual.Options(virtual.FPS, fast))
	p := run.Parts{Source: src, Hands: src.Hear, Echo: a.Stdout, Warn: []string{"welcome"}}
	if !fast {
		p.Source = vision.Newest(src)
	}
	defer p.Source.Close()
	out, err := session.Run(ctx, &a.World, virtual.Settings(c, src.Night()), virtual.FPS, fast, p)
	return src, out, err
}
