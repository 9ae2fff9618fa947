package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/run/session"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
)

// nightFlags are the flags of a night or a day that are no settings.
type nightFlags struct {
	clockFlags
	session.Options
}

func (g *nightFlags) add(cmd *cobra.Command, fps float64, what string) {
	g.clockFlags.add(cmd, fps)
	cmd.Flags().StringVar(&g.Transcript, "transcript", "", "`FILE` for what happens as JSON lines, - for standard output")
	under(cmd, besides, "transcript")
	cmd.Flags().StringVar(&g.Journal, "journal", "", "`FILE` to which the "+what+" is added, or none; if not given, the usual one, and none for the virtual telescope")
}

// options are those of the session.
func (g nightFlags) options() (o session.Options, err error) {
	o = g.Options
	o.FPS, o.Version = g.fps, version()
	o.Frames, err = g.frames()
	return o, err
}

func newCollimateCommand(a *app) *cobra.Command {
	var g nightFlags
	cmd := &cobra.Command{
		Use:     "collimate",
		Aliases: []string{"guide"}, // for scripts; help does not show it
		Short:   "Guide the hands at the mirror by voice and tone",
		Long: `Watches the star and says which knob to turn, which way, how far, and when to
stop, until the mirror is true. Put a bright star out of focus in the middle of
the frame, and listen. Ctrl-C ends it. Never point the telescope at the Sun.

The camera is one of: a device number or path; "-" for MJPEG on standard input;
a video file; a folder of frames; a GStreamer pipeline; an http address that
sends MJPEG; virtual, or virtual:SEED, for the built-in telescope.`,
		Example: "halocue collimate\nhalocue collimate --camera 0 --profile dobson\nhalocue collimate --camera virtual:7",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			try := func() (config.Config, error) {
				c, err := a.settings(cmd)
				if err == nil {
					err = a.collimate(cmd.Context(), c, g)
				}
				return c, err
			}
			if g.Wait {
				return session.RetryUntilReady(cmd.Context(), &a.World, isUsage, try)
			}
			_, err := try()
			return err
		},
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "sound", "voice", "coach", "board", "drive")
	g.add(cmd, 10, "night")
	cmd.Flags().StringVar(&g.Record, "record", "", "`FOLDER` in which the night is kept with its frames, for halocue replay")
	cmd.Flags().BoolVar(&g.Wait, "wait", false, "wait for a camera that is not there yet, for settings that are missing, and after a night for the button or the words that begin another")
	cmd.Flags().BoolVar(&g.ByDay, "by-day", false, "begin though the Sun is up, without being asked")
	return cmd
}

func (a *app) collimate(ctx context.Context, c config.Config, g nightFlags) error {
	outlivePipe()
	o, err := g.options()
	if err != nil {
		return err
	}
	if o.Frames && c.Drive.Mount+c.Drive.Focuser != "" {
		return usageError{errors.New("--mount and --focuser move by the wall clock only; leave --clock frames out")}
	}
	seed, isVirtual, err := virtual.Seed(c.Camera.Source)
	if err != nil {
		return err
	}
	var v session.Virtual
	if isVirtual {
		src := telescope.NewSource(virtual.Night(seed, c), virtual.Options(o.FPS, o.Frames))
		c = virtual.Settings(c, src.Night())
		v = session.Virtual{Source: src, Hands: src.Hear}
	}
	return session.Night(ctx, &a.World, c, o, v)
}
