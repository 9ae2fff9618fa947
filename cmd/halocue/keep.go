package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"halocue/config"
	"halocue/internal/setup"
)

// keeping says whether what was measured goes into the settings.
type keeping struct {
	write bool // without a question
	ask   bool // after one, aloud
}

// keep writes what change makes of the settings into their file, if that is wanted:
// the file that was read, or the usual one. Nothing else in the file changes.
func (a *app) keep(ctx context.Context, c config.Config, k keeping, say func(string) error, change func(*config.Config)) error {
	_, isVirtual, err := virtualSeed(c.Camera.Source)
	if err != nil || !k.write && (!k.ask || isVirtual || c.Camera.Source == "-") {
		return err
	}
	path, text, err := settingsText(a.env, c.File)
	if err != nil {
		return err
	}
	if !k.write {
		yes, err := setup.YesNo(ctx, asking{a.stdin, say}, "keep", path)
		if errors.Is(err, io.EOF) || errors.Is(err, setup.ErrQuit) {
			return nil // nobody answers: nothing is written
		}
		if err != nil || !yes {
			return err
		}
	}
	kept, err := config.Parse(text)
	if err != nil {
		return fmt.Errorf("settings file %s: %w", path, err)
	}
	change(&kept)
	changed, err := config.Edit(text, kept)
	if err != nil {
		return fmt.Errorf("settings file %s: %w", path, err)
	}
	if err := writeSettings(path, changed, text != ""); err != nil {
		return err
	}
	return say("Written to " + path + ".")
}

// settingsText reads the settings file as it stands, "" for one that is to be made.
func settingsText(env []string, path string) (string, string, error) {
	if path == "" {
		var err error
		if path, err = setupPath(env, "", ""); err != nil {
			return "", "", err
		}
	}
	text, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", "", fmt.Errorf("reading the settings: %w; check who may read them", err)
	}
	return path, string(text), nil
}

// asking is a voice with the lines of standard input.
type asking struct {
	in  io.Reader
	say func(string) error
}

func (t asking) Say(_ context.Context, sentence string) error { return t.say(sentence) }

// Answer reads one line and nothing beyond it.
func (t asking) Answer(context.Context) (string, error) {
	var line []byte
	var b [1]byte
	for {
		n, err := t.in.Read(b[:])
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
