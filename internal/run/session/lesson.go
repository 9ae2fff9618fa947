package session

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/config"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/prompts"
	"halocue/vision"
	"halocue/vision/ring"
)

// firstLesson explains the sounds in a minute, and lets the person try them. A press goes
// on to the next, two say it again, a long one ends it; without any it goes on by
// itself.
type firstLesson struct {
	*aloud.Out
	phrases  *prompts.Phrases
	commands <-chan command.Command
	print    func(text string)
}

// lessonSounds are the words' variants and the sounds that follow them.
var lessonSounds = []struct{ say, sound string }{
	{"start", ""}, {"far", "tone-far"}, {"coming", "tone-coming"}, {"inside", "tone-inside"}, {"stop", "tone-stop"},
	{"lost", "star-lost"}, {"trouble", "device-trouble"},
}

const (
	tryPatience = 8.0 // s without a press until the trial is over
	tryFar      = 8.0 // tolerances at its beginning; each press halves them
)

// errEnough ends a lesson: the person wants no more of it.
var errEnough = errors.New("enough")

// waits reports whether a camera is still there after a lesson. A pipe, a file or a
// folder would have run out meanwhile.
func waits(source string) bool {
	if source == "-" {
		return false
	}
	info, err := os.Stat(source)
	return err != nil || info.Mode()&os.ModeDevice != 0
}

// welcome is what a first night begins with: the greeting, and the lesson. It returns
// what is still to be said by the night itself: all of greeting, if there is nobody to
// hear it here.
func welcome(ctx context.Context, w *parts.World, c config.Config, greeting []string, commands <-chan command.Command) ([]string, error) {
	out, err := aloud.Open(ctx, c, c.Voice.Language)
	defer func() { out.Close() }()
	if err != nil || !out.Live() {
		return greeting, nil // the night will say why
	}
	if out.NoVoice != nil {
		return nil, out.NoVoice
	}
	phrases, err := parts.Phrases(c.Voice)
	if err != nil {
		return nil, err
	}
	l := firstLesson{out, phrases, commands, func(text string) { fmt.Fprintln(w.Shown(c, w.Stdout), text) }}
	for _, code := range greeting {
		if err := l.say(ctx, prompts.Cue{Code: code}); err != nil {
			return nil, err
		}
	}
	return []string{"starting"}, l.give(ctx)
}

// errFlooded ends a lesson: it may be the Sun.
var errFlooded = errors.New("flooded with light")

// underWatch runs teach while the camera is watched. A flood of light, which may be the
// Sun, ends the lesson; the night then begins, and warns.
func underWatch(ctx context.Context, src vision.Source, m *ring.Meter, teach func(context.Context) ([]string, error)) ([]string, error) {
	ctx, end := context.WithCancelCause(ctx)
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		if flooded(ctx, src, m) {
			end(errFlooded)
		}
	}()
	warn, err := teach(ctx)
	end(nil)
	<-watched
	if errors.Is(context.Cause(ctx), errFlooded) {
		return []string{"starting"}, nil
	}
	return warn, err
}

// flooded waits for two frames in a row that are flooded with light. It is false where
// no more frames come, which the night will tell of.
func flooded(ctx context.Context, src vision.Source, m *ring.Meter) bool {
	for n := 0; n < 2; {
		f, err := src.Next(ctx)
		switch {
		case errors.Is(err, vision.ErrBadFrame):
		case err != nil:
			return false
		case m.Track(f).Why == ring.TooBright:
			n++
		default:
			n = 0
		}
	}
	return true
}

func (l firstLesson) give(ctx context.Context) error {
	for i := 0; i < len(lessonSounds); i++ {
		again, err := l.one(ctx, lessonSounds[i].say, lessonSounds[i].sound)
		if errors.Is(err, errEnough) {
			return l.say(ctx, prompts.Cue{Code: "lesson", Direction: "later"})
		}
		if err != nil {
			return err
		}
		if again {
			i--
		}
	}
	return l.try(ctx)
}

// one says the words and plays the sound, until a press.
func (l firstLesson) one(ctx context.Context, words, sound string) (again bool, err error) {
	ctx, next := context.WithCancelCause(ctx)
	defer next(nil)
	err = l.heeding(next).say(ctx, prompts.Cue{Code: "lesson", Direction: words})
	if err == nil && sound != "" {
		i := slices.IndexFunc(audio.Sounds(), func(s audio.Sound) bool { return s.Code == sound })
		err = l.heeding(next).Play(ctx, audio.Sounds()[i])
	}
	l.Mixer.Hush()
	l.Mixer.SetTone(audio.Tone{})
	var said pressed
	if errors.As(context.Cause(ctx), &said) {
		switch command.Command(said) {
		case command.Repeat:
			return true, nil
		case command.Wait, command.Finished:
			return false, errEnough
		}
		return false, nil
	}
	return false, err
}

// pressed is the end of a piece of the lesson by a command.
type pressed command.Command

func (p pressed) Error() string { return string(p) }

// heeding is the lesson, ended by a command.
func (l firstLesson) heeding(end context.CancelCauseFunc) firstLesson {
	out := *l.Out
	out.Sink = heedful{out.Sink, func() {
		select {
		case c := <-l.commands:
			end(pressed(c))
		default:
		}
	}}
	l.Out = &out
	return l
}

// heedful is a sink that does something more whenever it moves on.
type heedful struct {
	audio.Sink
	do func()
}

func (h heedful) Advance(seconds float64) error {
	h.do()
	return h.Sink.Advance(seconds)
}

// try lets the person bring the tone to its goal by presses.
func (l firstLesson) try(ctx context.Context) error {
	if err := l.say(ctx, prompts.Cue{Code: "lesson", Direction: "try"}); err != nil {
		return err
	}
	off, waited, end := tryFar, 0.0, "later"
	for waited < tryPatience && end == "later" {
		l.Mixer.SetTone(tryTone(off))
		if err := l.Pass(ctx, 0.1, func(float64) {}); err != nil {
			return err
		}
		waited += 0.1
		select {
		case c := <-l.commands:
			if c == command.Wait {
				waited = tryPatience
				break
			}
			off, waited = off/2, 0
			if tryTone(off).State == audio.Inside {
				end = "well"
			}
		default:
		}
	}
	l.Mixer.SetTone(tryTone(off))
	if end == "well" {
		if err := l.Pass(ctx, 2.5, func(float64) {}); err != nil {
			return err
		}
	}
	l.Mixer.SetTone(audio.Tone{})
	return l.say(ctx, prompts.Cue{Code: "lesson", Direction: end})
}

func tryTone(off float64) audio.Tone {
	if off < 1 {
		return audio.Tone{State: audio.Inside, Error: off}
	}
	return audio.Tone{State: audio.Trim, Error: off}
}

// say prints and says a cue to its end.
func (l firstLesson) say(ctx context.Context, cue prompts.Cue) error {
	text, _, err := l.phrases.Text(cue)
	if err != nil {
		return err
	}
	l.print(text)
	seconds, err := l.Begin(ctx, text)
	if err != nil {
		return err
	}
	return l.Pass(ctx, seconds+aloud.Gap/2, func(float64) {})
}
