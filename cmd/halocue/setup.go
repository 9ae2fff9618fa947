package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/internal/setup"
	"halocue/vision/camera"
)

func newSetupCommand(a *app) *cobra.Command {
	var output, profile, path string
	cmd := &cobra.Command{
		Use:   "setup",
		Short: "Ask about the telescope, aloud, and write the settings",
		Long: `Asks about telescope, camera, knobs and sound, one short question after the other,
spoken and printed, in the language that you choose first, one of nine. Answer each
with a line. skip, back, repeat, quit and ? work at any time; at the end every
answer can be corrected. Settings that are there already are not written over
before you have said so. With --microphone the answers can be spoken, in English
only; names of your own are typed.

A second telescope gets a profile: settings in a file of their own.`,
		Example: "halocue setup\nhalocue setup --sound none\nhalocue setup --profile dobson\nhalocue collimate --profile dobson",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if output != "" && profile != "" {
				return usageError{errors.New("--output and --profile both name the file: give one of them")}
			}
			err := checkProfile(profile)
			if path = output; err == nil && path == "" {
				path, err = setup.Path(a.Env, profile)
			}
			if err != nil {
				return err
			}
			given, _ := a.given(cmd)
			if _, err := os.Stat(path); err == nil && profile != "" {
				given.File = path
			}
			c, err := config.Load(given)
			if c.File == "" && !cmd.Flags().Changed("language") {
				c.Voice.Language = setup.Locale(a.Env)
			}
			if err != nil { // which is what set-up is there to mend
				fmt.Fprintf(a.Stderr, "halocue: %v; set-up speaks with the built-in settings\n", err)
				c = config.Default()
				c.Voice.Language = setup.Locale(a.Env)
			}
			return a.setup(cmd.Context(), c, path)
		},
	}
	cmd.Flags().StringVarP(&output, "output", "o", "", "`FILE` to write, if not the usual one")
	cmd.Flags().StringVar(&profile, "profile", "", "`NAME` of the telescope, for settings of its own beside the usual ones")
	quietFlag(cmd)
	for _, k := range config.Keys() {
		switch k.Flag {
		case "sound", "volume", "voice", "speed-wpm", "microphone", "language":
			settingFlagOf(cmd, k, k.Explained()+"; of set-up itself")
		}
	}
	return cmd
}

// setup asks the questions, and writes the settings to path, or to a profile's file beside
// it.
func (a *app) setup(ctx context.Context, c config.Config, path string) (err error) {
	language := c.Voice.Language
	t, err := aloud.NewTalk(ctx, &a.World, c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, t.Close()) }()
	s, path, replace, err := setup.Begin(ctx, t, path, c.Voice.Language)
	if err == nil {
		s.Voice, s.Ears = t.SpeakAs, c.Sound.Microphone
		s.Alike = func(v config.Voice, knobs []config.Knob) [][2]string { return parts.Alike(ctx, v, knobs) }
		for _, found := range camera.List() {
			s.Cameras = append(s.Cameras, setup.Camera(found))
		}
		if t.Live() { // else there is no sound system to ask
			s.Outputs, _ = device.Outputs() // without them the question is left out
		}
		c, err = setup.Run(ctx, t, s)
	}
	switch {
	case errors.Is(err, setup.ErrQuit):
		return t.Say(ctx, setup.Left(language))
	case ctx.Err() != nil: // nobody waits for a sentence to be spoken
		fmt.Fprintln(a.Stdout, setup.Left(language))
		return err
	case errors.Is(err, io.EOF):
		return errors.New("the answers ended before the last question, and nothing was written; run halocue setup again, to the end")
	case err != nil:
		return err
	}
	aside, err := setup.Save(c, path, replace)
	if aside != "" {
		fmt.Fprintf(a.Stderr, "halocue: the old settings are kept as %s\n", aside)
	}
	if err != nil {
		return err
	}
	found, err := config.Load(config.Sources{Env: a.Env})
	for _, line := range setup.Closing(c, path, setup.ProfileOf(a.Env, path), err == nil && found.File == path) {
		if err := t.Say(ctx, line); err != nil {
			return err
		}
	}
	return nil
}
