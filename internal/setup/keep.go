package setup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"halocue/config"
)

// Keep writes what change makes of the settings into their file at path, "" for the
// usual one of env. Nothing else in the file changes. With a Talk it asks first, in the language, and
// writes nothing where nobody answers. The path is "" where nothing was written.
func Keep(ctx context.Context, env []string, path, language string, t Talk, change func(*config.Config)) (string, error) {
	path, text, err := settingsText(env, path)
	if err != nil {
		return "", err
	}
	if t != nil {
		w := tongueOf(language)
		yes, err := once(ctx, t, w, "keep", w.yesNo, path)
		if errors.Is(err, io.EOF) || errors.Is(err, ErrQuit) {
			return "", nil
		}
		if err != nil || !yes {
			return "", err
		}
	}
	kept, err := config.Parse(text)
	if err != nil {
		return "", fmt.Errorf("settings file %s: %w", path, err)
	}
	change(&kept)
	changed, err := config.Edit(text, kept)
	if err != nil {
		return "", fmt.Errorf("settings file %s: %w", path, err)
	}
	return path, write(path, changed, text != "")
}

// settingsText reads the settings file as it stands, "" for one that is to be made.
func settingsText(env []string, path string) (string, string, error) {
	if path == "" {
		var err error
		if path, err = Path(env, ""); err != nil {
			return "", "", err
		}
	}
	text, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", "", fmt.Errorf("reading the settings: %w; check who may read them", err)
	}
	return path, string(text), nil
}

// Asking is a voice with the lines of standard input.
type Asking struct {
	In    io.Reader
	Speak func(string) error
}

// Say says a sentence.
func (t Asking) Say(_ context.Context, sentence string) error { return t.Speak(sentence) }

// Answer reads one line and nothing beyond it.
func (t Asking) Answer(context.Context) (string, error) {
	var line []byte
	var b [1]byte
	for {
		n, err := t.In.Read(b[:])
		switch {
		case n == 1 && b[0] != '\n' && len(line) < 1000:
			line = append(line, b[0])
		case n == 1, err == io.EOF && len(line) > 0:
			return string(line), nil
		case err != nil:
			return "", err
		}
	}
}
