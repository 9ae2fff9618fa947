package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/config"
	"halocue/internal/run/session"
	"halocue/internal/simulate/indoors"
	"halocue/internal/simulate/virtual"
)

func newIndoorsCommand(a *app) *cobra.Command {
	var g nightFlags
	cmd := &cobra.Command{
		Use:   "indoors",
		Short: "Align both mirrors roughly by day, by ear",
		Long: `Watches the inside of the tube through a camera at a small hole in a plug in the
focuser, and says which screw to turn: first the secondary's three small screws,
until the main mirror is seen with an even margin all round; then the main mirror's
knobs, until the ring mark in its middle stands on the dark reflection of the hole.
It wants daylight or a lamp on a light wall. A star by night does the rest.

Never let the Sun shine into the tube. Lay the tube level; nothing loose over an
open tube. The camera is named as for collimate; virtual, or virtual:SEED, is a
built-in telescope with hands of its own.`,
		Example: "halocue indoors\nhalocue indoors --camera virtual",
		Args:    noArgs,
		RunE: a.with(func(cmd *cobra.Command, c config.Config, _ []string) error {
			return a.indoors(cmd.Context(), c, g)
		}),
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "sound", "voice")
	g.add(cmd, 5, "day")
	return cmd
}

func (a *app) indoors(ctx context.Context, c config.Config, g nightFlags) error {
	outlivePipe()
	o, err := g.options()
	if err != nil {
		return err
	}
	seed, isVirtual, err := virtual.Seed(c.Camera.Source)
	if err != nil {
		return err
	}
	if !isVirtual {
		return session.Day(ctx, &a.World, c, o, session.Virtual{})
	}
	src := indoors.NewSource(virtual.Day(seed, c), virtual.Options(o.FPS, o.Frames))
	if err := session.Day(ctx, &a.World, virtual.DaySettings(c, src.Scene()), o, session.Virtual{Source: src, Hands: src.Hear}); err != nil {
		return err
	}
	tr := src.Truth()
	fmt.Fprintf(a.Stderr, "In truth the mirror's axis passes the focuser's at %.2f mm, and the hole in the plug is %.2f mm off.\n", r2.Norm(tr.Axis), r2.Norm(tr.Peephole))
	return nil
}
