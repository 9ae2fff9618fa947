package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"halocue/audio"
	"halocue/internal/guide"
	"halocue/prompts"
	"halocue/prompts/voice"
)

func newReplayCommand(a *app) *cobra.Command {
	var transcript string
	cmd := &cobra.Command{
		Use:   "replay FILE",
		Short: "Run a recorded night past the coach again",
		Long: `Reads the transcript of a night that guide --transcript wrote, and prints what
the coach of this halocue would have said to the same sights. The hands in the
recording did what they were told then, so the two part ways where the cues
differ. The settings must be those of the night.`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			if err := c.Validate(); err != nil {
				return err
			}
			f, err := os.Open(args[0])
			if err != nil {
				return fmt.Errorf("opening the transcript: %w; give a file that guide --transcript wrote", err)
			}
			defer f.Close()
			p := guide.Parts{}
			closeFiles, err := a.guideFiles(guideFlags{transcript: transcript}, &p)
			if err != nil {
				return err
			}
			defer closeFiles()
			phrases, err := newPhrases(c.Voice)
			if err != nil {
				return err
			}
			v, err := newVoice(c.Voice, make(chan guide.DeviceEvent, 64))
			if err != nil {
				return err
			}
			if p.Coach, err = newCoach(c, demoFPS, nil); err != nil {
				return err
			}
			p.Narrator, p.Speech = prompts.NewNarrator(phrases), voice.NewSpeaker(v)
			p.Desk = audio.NewDesk(audio.Settings{})
			p.Sink = audio.NewNull(p.Desk)
			_, err = guide.Replay(cmd.Context(), p, f)
			return err
		},
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "voice")
	cmd.Flags().StringVar(&transcript, "transcript", "", "`FILE` for the new transcript, - for standard output")
	return cmd
}
