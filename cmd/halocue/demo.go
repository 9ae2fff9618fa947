package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/guide"
	"halocue/internal/virtual"
	"halocue/vision"
)

// demoWAV is where the demonstration goes on where there is no sound device.
const demoWAV = "demo.wav"

func newDemoCommand(a *app) *cobra.Command {
	var fast bool
	var seed uint64
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Hear a whole night on the built-in virtual telescope",
		Long: `Collimates a virtual telescope from beginning to end: what you hear is what you
would hear in the field. A pair of clumsy virtual hands turns the knobs. The
words are printed as they are said.

With --fast it runs as quickly as it can, into demo.wav, which you can play.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.demo(cmd.Context(), c, seed, fast)
		},
	}
	settingFlags(cmd, "sound", "voice")
	cmd.Flags().BoolVar(&fast, "fast", false, "as quickly as it can, into "+demoWAV)
	cmd.Flags().Uint64Var(&seed, "seed", 1, "`N` of the night; each is another")
	return cmd
}

// demoFPS is what a small computer can draw and measure.
const demoFPS = 10

func (a *app) demo(ctx context.Context, c config.Config, seed uint64, fast bool) error {
	if fast && c.Sound.Output == "default" {
		c.Sound.Output = demoWAV
	}
	src, out, err := a.demoNight(ctx, c, seed, fast)
	if errors.Is(err, device.ErrNoDevice) {
		fmt.Fprintf(a.stderr, "halocue: %v\nThe demonstration goes on into %s.\n", err, demoWAV)
		c.Sound.Output, fast = demoWAV, true
		src, out, err = a.demoNight(ctx, c, seed, fast)
	}
	if err != nil || out.Result == "" {
		return err
	}
	t := src.Night().Telescope
	off := r2.Norm(src.Truth().Axis) / t.Tolerance()
	fmt.Fprintf(a.stdout, "\nResult: %s. In truth the axis is %.2f tolerances off, a wavefront error of %.3f waves RMS.\n",
		out.Result, off, t.ComaRMS(off*t.Tolerance()))
	if fast && c.Sound.Output != "none" {
		fmt.Fprintf(a.stdout, "To hear it: play %s.\n", c.Sound.Output)
	}
	return nil
}

func (a *app) demoNight(ctx context.Context, c config.Config, seed uint64, fast bool) (*virtual.Source, guide.Outcome, error) {
	src := virtual.NewSource(virtual.Demo(seed), virtual.SourceOptions{FPS: demoFPS, Wall: !fast, Closed: vision.ErrClosed})
	p := guide.Parts{Source: src, Hands: src.Hear, Echo: a.stdout}
	if !fast {
		p.Source = vision.Newest(src)
	}
	defer p.Source.Close()
	out, err := a.night(ctx, virtualSettings(c, src.Night()), demoFPS, fast, p, make(chan guide.DeviceEvent, 64))
	return src, out, err
}
