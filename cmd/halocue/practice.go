package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/simulate/practice"
	"halocue/internal/simulate/virtual"
)

// practiceFlags are the flags of practice that are no settings.
type practiceFlags struct {
	seed  uint64
	level string
	whose string
	fast  bool
}

func newPracticeCommand(a *app) *cobra.Command {
	var g practiceFlags
	cmd := &cobra.Command{
		Use:   "practice",
		Short: "Learn it by day: the virtual telescope under your own hands",
		Long: `A virtual telescope whose three knobs you turn by keys, eyes shut. Listen, and do
what is said. At a keyboard each key works at once, without Enter; what comes
through a pipe is lines of one letter. The same key several times quickly is one
movement, and a new turn replaces the one under way.

Q and A tighten and loosen the left knob, W and S the next one, E and D the right
one, by a thirty-second of a turn. C brings the star to the centre. O racks through
to the other side of focus, G and H make the ring bigger and smaller. X stops. R
says again what was said last, and a question mark says the keys. Ctrl-C ends it.
At the end it tells how it went, and what to try.

With --fast no time is kept: a number on a line waits so many seconds of the
night, and the practice ends with the input.`,
		Example: "halocue practice\nhalocue practice --level usual --seed 2",
		Args:    noArgs,
		RunE: a.with(func(cmd *cobra.Command, c config.Config, _ []string) error {
			n, err := practice.Night(c, g.seed, g.level)
			if err != nil {
				return usageError{err}
			}
			if err := virtual.Hands(&n, g.whose); err != nil {
				return usageError{fmt.Errorf("--person: %w", err)}
			}
			return practice.Run(cmd.Context(), &a.World, c, n, g.level, g.fast)
		}),
	}
	settingFlags(cmd, "sound", "voice", "coach")
	cmd.Flags().Uint64Var(&g.seed, "seed", 1, "`N` of the telescope; each is out of true in another way")
	cmd.Flags().StringVar(&g.level, "level", "calm", "`SKY`: calm, usual or rough")
	cmd.Flags().StringVar(&g.whose, "person", "", "`NAME`: what you key is done as this person would do it; a name that is none lists them")
	cmd.Flags().BoolVar(&g.fast, "fast", false, "keep no time, into "+practice.WAV)
	return cmd
}
