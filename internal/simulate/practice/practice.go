// Package practice is the virtual telescope under a person's own hands, by keys.
package practice

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio/command"
	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/cue"
	"halocue/internal/run"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/internal/run/session"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
	"halocue/prompts"
	"halocue/vision"
)

// Night is a night of a level: seeing 1, 2 and 3.5 arcseconds, and a wind
// that shakes the tube. The hands do at once and to the letter what a key says.
func Night(c config.Config, seed uint64, level string) (telescope.Night, error) {
	n := virtual.Night(seed, c)
	n.Skill = telescope.Skill{ReactMin: 0.01, ReactMax: 0.01, StopMin: 0.01, StopMax: 0.01}
	switch level {
	case "calm":
		n.Sky.Seeing, n.Mount.Shake = 1, 0.001
	case "usual":
	case "rough":
		n.Sky.Seeing, n.Sky.Wind, n.Mount.Shake = 3.5, 10, 0.006
		n.Mount.KickEvery, n.Mount.Kick = 90, 0.2
	default:
		return n, fmt.Errorf("--level %q: choose calm, usual or rough", level)
	}
	return n, nil
}

// WAV is where a fast practice sounds.
const WAV = "practice.wav"

// Run lets a person practise on a night of a level. Fast keeps no time, and ends with
// the input.
func Run(ctx context.Context, w *parts.World, c config.Config, n telescope.Night, level string, fast bool) error {
	if fast && c.Sound.Output == "default" {
		c.Sound.Output = WAV
	}
	phrases, err := parts.Phrases(c.Voice)
	if err != nil {
		return err
	}
	src := telescope.NewSource(n, virtual.Options(virtual.FPS, fast))
	commands := make(chan command.Command, 16)
	hands := &keys{hear: src.Hear, knobs: leftToRight(n.Cell.Knobs), commands: commands, touched: make(chan struct{}), complain: w.Stderr}
	p := run.Parts{Source: src, Echo: w.Stdout, Help: hands.taught(), Commands: commands}
	if fast {
		p.Source = &scripted{Source: src, keys: hands, lines: bufio.NewScanner(w.Stdin)}
	} else {
		p.Source = vision.Newest(src)
		giveBack, err := hands.listen(ctx, w.Stdin)
		if err != nil {
			return err
		}
		defer giveBack()
	}
	defer p.Source.Close()
	teach := append([]prompts.Cue{{Code: "practice-start"}}, p.Help...)
	opening, err := texts(phrases, teach...)
	if err != nil {
		return err
	}
	if err := teachAloud(ctx, w, c, fast, hands.touched, opening...); err != nil {
		return err
	}
	start := r2.Norm(src.Truth().Axis) / n.Telescope.Tolerance()
	play := func() (run.Outcome, error) {
		return session.Run(ctx, w, virtual.Settings(c, src.Night()), virtual.FPS, fast, p)
	}
	out, err := play()
	if errors.Is(err, device.ErrNoDevice) {
		fmt.Fprintf(w.Stderr, "halocue: %v\nThe practice goes on without sound.\n", err)
		c.Sound.Output = "none"
		out, err = play()
	}
	if err != nil {
		return err
	}
	end, turns := r2.Norm(src.Truth().Axis)/n.Telescope.Tolerance(), int(hands.turns.Load())
	say, _, err := parts.Sentences(c.Voice)
	if err != nil {
		return err
	}
	how, next := howItWent(start, end, out.Result, turns), "practice.again"
	if how == "well" {
		next = tryNext[level]
	}
	went, err := texts(phrases, prompts.Cue{Code: "practice-went", Direction: how})
	if err != nil {
		return err
	}
	fmt.Fprintln(w.Stdout)
	return teachAloud(context.WithoutCancel(ctx), w, c, fast, nil, say("practice.took", out.Time, turns, start, end), went[0], say(next))
}

// tryNext is what to try after a level that went well.
var tryNext = map[string]string{"calm": "practice.after-calm", "usual": "practice.after-usual", "rough": "practice.after-rough"}

// leftToRight orders the knobs as they stand seen from behind, as the keys do.
func leftToRight(knobs []cue.Knob) []cue.Knob {
	x := func(k cue.Knob) float64 { return math.Sin(k.Clock * math.Pi / 6) }
	return slices.SortedFunc(slices.Values(knobs), func(a, b cue.Knob) int { return cmp.Compare(x(a), x(b)) })
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

// texts are the words of cues.
func texts(phrases *prompts.Phrases, cues ...prompts.Cue) (all []string, err error) {
	for _, cue := range cues {
		text, _, err := phrases.Text(cue)
		if err != nil {
			return nil, err
		}
		all = append(all, text)
	}
	return all, nil
}

// teachAloud prints the texts and, where time is kept, speaks them. A key that
// was pressed cuts the words short: who knows the keys need not hear them.
func teachAloud(ctx context.Context, w *parts.World, c config.Config, fast bool, cut <-chan struct{}, texts ...string) error {
	shown := w.Stdout
	if !fast {
		shown = w.Shown(c, shown)
	}
	if _, err := fmt.Fprintln(shown, strings.Join(texts, "\n")); err != nil || fast {
		return err
	}
	o, err := aloud.Open(ctx, c, c.Voice.Language)
	defer func() { o.Close() }()
	if err != nil && !errors.Is(err, device.ErrNoDevice) { // the night will say so
		return err
	}
	if o.NoVoice != nil || !o.Live() {
		return o.NoVoice
	}
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
		if err := o.Say(hear, text); err != nil && hear.Err() == nil {
			return err
		}
	}
	return ctx.Err()
}
