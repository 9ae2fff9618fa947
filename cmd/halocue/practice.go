package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/guide"
	"halocue/internal/virtual"
	"halocue/prompts"
	"halocue/vision"
)

// practiceFlags are the flags of practice that are no settings.
type practiceFlags struct {
	seed  uint64
	level string
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
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := a.settings(cmd)
			if err != nil {
				return err
			}
			return a.practice(cmd.Context(), c, g)
		},
	}
	settingFlags(cmd, "sound", "voice")
	cmd.Flags().Uint64Var(&g.seed, "seed", 1, "`N` of the telescope; each is out of true in another way")
	cmd.Flags().StringVar(&g.level, "level", "calm", "`SKY`: calm, usual or rough")
	cmd.Flags().BoolVar(&g.fast, "fast", false, "keep no time, into "+practiceWAV)
	return cmd
}

const practiceWAV = "practice.wav"

// practiceNight is a night of a level: seeing 1, 2 and 3.5 arcseconds, and a wind
// that shakes the tube. The hands do at once and to the letter what a key says.
func practiceNight(seed uint64, level string) (virtual.Night, error) {
	n := virtual.Demo(seed)
	n.Skill = virtual.Skill{ReactMin: 0.01, ReactMax: 0.01, StopMin: 0.01, StopMax: 0.01}
	switch level {
	case "calm":
		n.Sky.Seeing, n.Mount.Shake = 1, 0.001
	case "usual":
	case "rough":
		n.Sky.Seeing, n.Sky.Wind, n.Mount.Shake = 3.5, 10, 0.006
		n.Mount.KickEvery, n.Mount.Kick = 90, 0.2
	default:
		return n, usageError{fmt.Errorf("--level %q: choose calm, usual or rough", level)}
	}
	return n, nil
}

func (a *app) practice(ctx context.Context, c config.Config, g practiceFlags) error {
	n, err := practiceNight(g.seed, g.level)
	if err != nil {
		return err
	}
	if g.fast && c.Sound.Output == "default" {
		c.Sound.Output = practiceWAV
	}
	phrases, err := newPhrases(c.Voice)
	if err != nil {
		return err
	}
	src := virtual.NewSource(n, virtual.SourceOptions{FPS: demoFPS, Wall: !g.fast, Closed: vision.ErrClosed})
	commands := make(chan coach.Command, 16)
	keys := &practiceKeys{hear: src.Hear, knobs: leftToRight(n.Cell.Knobs), commands: commands, touched: make(chan struct{}), complain: a.stderr}
	p := guide.Parts{Source: src, Echo: a.stdout, Help: keys.taught(), Commands: commands}
	if g.fast {
		p.Source = &scripted{Source: src, keys: keys, lines: bufio.NewScanner(a.stdin)}
	} else {
		p.Source = vision.Newest(src)
		giveBack, err := keys.listen(ctx, a.stdin)
		if err != nil {
			return err
		}
		defer giveBack()
	}
	defer p.Source.Close()
	teach := append([]prompts.Cue{{Code: "practice-start"}}, p.Help...)
	if err := a.tellPractice(ctx, c, g.fast, phrases, keys.touched, teach...); err != nil {
		return err
	}
	start := r2.Norm(src.Truth().Axis) / n.Telescope.Tolerance()
	out, err := a.night(ctx, virtualSettings(c, src.Night()), demoFPS, g.fast, p, make(chan guide.DeviceEvent, 64))
	if errors.Is(err, device.ErrNoDevice) {
		fmt.Fprintf(a.stderr, "halocue: %v\nThe practice goes on without sound.\n", err)
		c.Sound.Output = "none"
		out, err = a.night(ctx, virtualSettings(c, src.Night()), demoFPS, g.fast, p, make(chan guide.DeviceEvent, 64))
	}
	if err != nil {
		return err
	}
	end, turns := r2.Norm(src.Truth().Axis)/n.Telescope.Tolerance(), int(keys.turns.Load())
	fmt.Fprintf(a.stdout, "\nIt took %.0f seconds and %d keys of turning. The axis was %.1f tolerances off at the start, and is %.1f off now.\n",
		out.Time, turns, start, end)
	how := howItWent(start, end, out.Result, turns)
	went := prompts.Cue{Code: "practice-went", Direction: how}
	if err := a.tellPractice(context.WithoutCancel(ctx), c, g.fast, phrases, nil, went); err != nil {
		return err
	}
	next := tryNext[g.level]
	if how != "well" {
		next = "Next: halocue practice --level calm, until it says well done. The words tell which knob, the tone how near."
	}
	_, err = fmt.Fprintln(a.stdout, next)
	return err
}

// tryNext is what to try after a level that went well.
var tryNext = map[string]string{
	"calm":  "Next: halocue practice --level usual, or --seed 2 for another telescope.",
	"usual": "Next: halocue practice --level rough, or --seed 2 for another telescope.",
	"rough": "Next: halocue practice --level rough --seed 2, another telescope; then halocue guide on a real one. Never point it at the Sun.",
}

// leftToRight orders the knobs as they stand seen from behind, as the keys do.
func leftToRight(knobs []virtual.Knob) []virtual.Knob {
	x := func(k virtual.Knob) float64 { return math.Sin(k.Clock * math.Pi / 6) }
	return slices.SortedFunc(slices.Values(knobs), func(a, b virtual.Knob) int { return cmp.Compare(x(a), x(b)) })
}

// howItWent names what the keys did; start and end are the distance of the axis
// from true, in tolerances.
func howItWent(start, end float64, result string, turns int) string {
	switch {
	case turns == 0:
		return "untouched"
	case end > start:
		return "worse"
	case result == "":
		return "unfinished"
	case end > 1:
		return "not-true"
	}
	return "well"
}

// tellPractice prints the cues and, where time is kept, speaks them. A key that
// was pressed cuts the words short: who knows the keys need not hear them.
func (a *app) tellPractice(ctx context.Context, c config.Config, fast bool, phrases *prompts.Phrases, cut <-chan struct{}, cues ...prompts.Cue) error {
	var texts []string
	for _, cue := range cues {
		text, _, err := phrases.Text(cue)
		if err != nil {
			return err
		}
		texts = append(texts, text)
	}
	if _, err := fmt.Fprintln(a.stdout, strings.Join(texts, "\n")); err != nil || fast {
		return err
	}
	k := checking{app: a, c: c}
	if err := k.openSound(ctx); err != nil && !errors.Is(err, device.ErrNoDevice) { // the night will tell
		return err
	}
	defer func() { k.sink.Close() }()
	v, err := newVoice(c.Voice, make(chan guide.DeviceEvent, 64))
	if err != nil || silent(k.sink) {
		return err
	}
	k.voice = v
	hear, stop := context.WithCancel(ctx)
	defer stop()
	go func() {
		select {
		case <-cut: // for ever, if nil
			stop()
		case <-hear.Done():
		}
	}()
	for _, text := range texts {
		if err := k.say(hear, text); err != nil && hear.Err() == nil {
			return err
		}
	}
	return ctx.Err()
}
