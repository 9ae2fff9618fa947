package ears

import (
	"context"
	"errors"
	"strings"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/audio/internal/sphinx"
)

// twice recognises commands, in noise too. If the wake phrase was recognised in spite of
// the filler, a person speaks to the program, and what follows is decoded again without
// the filler, as the likeliest command. A wrong command can be undone; one that is not
// understood has to be said again.
type twice struct {
	strict, sure *sphinx.Decoder
	meaning      map[string]command.Command
}

// longestCommand is the longest utterance that is decoded a second time: talk that
// happens to begin like the wake phrase is longer (judgement).
const longestCommand = 4 * audio.MicRate // samples, with the silence around it

func newTwice(g *sphinx.Grammar, meaning map[string]command.Command) (Recogniser, error) {
	strict, err := sphinx.New(sphinx.Config{Grammar: g, Filler: filler})
	if err != nil {
		return nil, err
	}
	sure, err := sphinx.New(sphinx.Config{Grammar: g})
	if err != nil {
		return nil, errors.Join(err, strict.Close())
	}
	return &twice{strict, sure, meaning}, nil
}

func (t *twice) Decode(ctx context.Context, pcm []int16) (string, error) {
	words, whole, err := t.strict.Beginning(ctx, pcm)
	if err != nil {
		return "", err
	}
	if _, known := t.meaning[words]; known && whole {
		return words, nil
	} else if known {
		return "", nil // a command, and then more: talk that goes on
	}
	if len(pcm) > longestCommand || !strings.HasPrefix(words+" ", command.Wake+" ") {
		return "", nil
	}
	return t.sure.Decode(ctx, pcm)
}

func (t *twice) Close() error { return errors.Join(t.strict.Close(), t.sure.Close()) }
