package setup

import (
	"context"
	"fmt"
	"regexp"
	"strings"

	"halocue/config"
)

// once asks a question that is none of the telescope's, until its answer can be taken.
func once[T any](ctx context.Context, t Talk, w *tongue, id string, take func(string) (T, error), fill ...any) (T, error) {
	var zero T
	ask := fmt.Sprintf(w.Sections[id]["ask"], fill...)
	reply := ask
	for {
		if err := t.Say(ctx, reply); err != nil {
			return zero, err
		}
		line, steer, err := listen(ctx, t, w)
		if err != nil {
			return zero, err
		}
		if steer == help {
			reply = w.Sections[id]["help"]
			continue
		}
		if reply = ask; steer == repeat {
			continue
		}
		x, err := take(line)
		if err == nil {
			return x, nil
		}
		reply = w.sentence(err)
	}
}

// Closing is what to say once the settings are written: where they are, how they
// are used, and what is still missing. profile is the name by which they are found,
// "" for none; usual says that they are found unnamed.
func Closing(c config.Config, path, profile string, usual bool) []string {
	say := tongueOf(c.Voice.Language).say
	said := []string{say("written", path)}
	switch {
	case usual:
		said = append(said, say("use", "halocue check"))
	case profile != "":
		said = append(said, say("use-profile", "halocue collimate --profile "+profile))
	default:
		said = append(said, say("use-profile", "halocue collimate --config "+quoted(path)))
	}
	said = append(said, say("practise", "halocue practice"))
	if c.Telescope.Corrector {
		said = append(said, say("corrector-in"))
	}
	if c.Telescope.ApertureMM == 0 || c.Telescope.FocalLengthMM == 0 {
		said = append(said, say("two-needed"))
	}
	return said
}

// Left is what to say, in a language, where ErrQuit has ended a set-up.
func Left(language string) string { return tongueOf(language).say("quit") }

// quoted is a path as a shell takes it.
func quoted(path string) string {
	if plainPath.MatchString(path) {
		return path
	}
	return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
}

var plainPath = regexp.MustCompile(`^[\pL\pN/._~+-]+$`)
