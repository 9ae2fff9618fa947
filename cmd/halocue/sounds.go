package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"halocue/audio"
	"halocue/config"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
)

func newSoundsCommand(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "sounds [NAME]...",
		Short: "Hear and learn every sound by its name",
		Long: `Names each sound and plays it: what the tone does, then the short signals. Each
is named aloud, and printed as it begins. Give names to hear only
those, as often and in the order in which you give them.

Keep one ear free for what happens around you, and begin softly.`,
		Example: "halocue sounds\nhalocue sounds star-lost star-found\nhalocue sounds --sound sounds.wav",
		RunE: func(cmd *cobra.Command, names []string) error {
			chosen, err := audio.SoundsNamed(names)
			if err != nil {
				return usageError{err}
			}
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.sounds(cmd.Context(), c, chosen)
		},
	}
	settingFlags(cmd, "sound", "voice")
	return cmd
}

// sounds names and plays the sounds, one after the other.
func (a *app) sounds(ctx context.Context, c config.Config, chosen []audio.Sound) (err error) {
	heard, _, err := parts.Sentences(c.Voice)
	if err != nil {
		return err
	}
	out, err := aloud.Open(ctx, parts.RecordableVoice(&a.World, c, false), c.Voice.Language)
	defer func() { err = errors.Join(err, out.Close()) }()
	if err = errors.Join(err, out.NoVoice); err != nil {
		return err
	}
	for _, s := range chosen {
		text := heard("sounds." + s.Code)
		fmt.Fprintf(out.Shown(&a.World, a.Stdout), "%s: %s\n", s.Code, text)
		seconds, err := out.Begin(ctx, "“"+strings.ReplaceAll(s.Code, "-", " ")+"”. "+text+".")
		if err != nil {
			return err
		}
		if err := out.Pass(ctx, seconds+aloud.Gap, func(float64) {}); err != nil {
			return err
		}
		if err := out.Play(ctx, s); err != nil {
			return err
		}
		a.Complain(out.Trouble())
	}
	return nil
}
