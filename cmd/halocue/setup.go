package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/setup"
)

func newSetupCommand(a *app) *cobra.Command {
	var output, profile string
	cmd := &cobra.Command{
		Use:   "setup",
		Short: "Ask about the telescope, aloud, and write the settings",
		Long: `Asks about telescope, camera, knobs and sound, one short question after the other,
spoken and printed, in English. Answer each with a line. skip, back, repeat, quit
and ? work at any time; at the end every answer can be corrected. Settings that
are there already are not written over before you have said so. With --microphone
the answers can be spoken, in English; names of your own are typed.

A second telescope gets a profile: settings in a file of their own.`,
		Example: "halocue setup\nhalocue setup --sound none\nhalocue setup --profile dobson\nhalocue guide --profile dobson",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			path, err := setupPath(a.env, output, profile)
			if err != nil {
				return err
			}
			c, err := a.settings(cmd)
			if err != nil { // which is what set-up is there to mend
				fmt.Fprintf(a.stderr, "halocue: %v; set-up speaks with the built-in settings\n", err)
				c = config.Default()
			}
			return a.setup(cmd.Context(), c, path)
		},
	}
	cmd.Flags().StringVarP(&output, "output", "o", "", "`FILE` to write, if not the usual one")
	cmd.Flags().StringVar(&profile, "profile", "", "`NAME` of the telescope, for settings of its own beside the usual ones")
	for _, k := range config.Keys() {
		switch k.Flag {
		case "sound", "volume", "voice", "speed-wpm", "microphone":
			cmd.Flags().Var(&settingFlag{key: k}, k.Flag, k.Help+"; of set-up itself")
			if k.IsBool() {
				cmd.Flags().Lookup(k.Flag).NoOptDefVal = "true"
			}
		}
	}
	return cmd
}

// setupPath is the file that is to be written.
func setupPath(env []string, output, profile string) (string, error) {
	switch {
	case output != "" && profile != "":
		return "", usageError{errors.New("--output and --profile both name the file: give one of them")}
	case output != "":
		return output, nil
	}
	home := lookup(env, "XDG_CONFIG_HOME")
	if home == "" {
		if home = lookup(env, "HOME"); home == "" {
			return "", errors.New("finding the place for the settings: neither HOME nor XDG_CONFIG_HOME is set; name a file with --output")
		}
		home = filepath.Join(home, ".config")
	}
	name := "halocue.toml"
	if profile != "" {
		var err error
		if name, err = setup.FileName(profile); err != nil {
			return "", usageError{fmt.Errorf("--profile: %w", err)}
		}
	}
	return filepath.Join(home, "halocue", name), nil
}

// setup asks, and writes the settings to path, or to a profile's file beside it.
func (a *app) setup(ctx context.Context, c config.Config, path string) (err error) {
	t, err := a.newTalk(ctx, c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, t.close()) }()
	s, path, replace, err := startSetup(ctx, t, path)
	if err == nil {
		s.Voice = t.speakAs
		c, err = setup.Run(ctx, t, s)
	}
	switch {
	case errors.Is(err, setup.ErrQuit):
		return t.Say(ctx, setup.Left())
	case errors.Is(err, io.EOF):
		return errors.New("the answers ended before the last question, and nothing was written; run halocue setup again, to the end")
	case err != nil:
		return err
	}
	if err := a.keepSetup(c, path, replace); err != nil {
		return err
	}
	found, err := config.Load(config.Sources{Env: a.env})
	for _, line := range setup.Closing(c, path, profileOf(a.env, path), err == nil && found.File == path) {
		if err := t.Say(ctx, line); err != nil {
			return err
		}
	}
	return nil
}

// profileOf is the name of the telescope whose settings the file holds, "" for none.
func profileOf(env []string, path string) string {
	name, ok := strings.CutPrefix(strings.TrimSuffix(filepath.Base(path), ".toml"), "halocue-")
	if usual, err := setupPath(env, "", name); !ok || err != nil || usual != path {
		return ""
	}
	return name
}

// keepSetup writes the settings. In a file that is there only what differs is
// changed; one that cannot be changed so stays beside the new one.
func (a *app) keepSetup(c config.Config, path string, replace bool) error {
	if replace {
		old, err := os.ReadFile(path)
		if err != nil {
			return fmt.Errorf("reading the settings again: %w; run halocue setup once more", err)
		}
		if text, err := config.Edit(string(old), c); err == nil {
			return writeSettings(path, text, true)
		}
		aside, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".old-*")
		if err == nil {
			_, err = aside.Write(old)
			err = errors.Join(err, aside.Close())
		}
		if err != nil {
			return fmt.Errorf("keeping the old settings: %w; free some space, or name another file with --output", err)
		}
		fmt.Fprintf(a.stderr, "halocue: the old settings are kept as %s\n", aside.Name())
	}
	text, err := setup.TOML(c)
	if err != nil {
		return err
	}
	return writeSettings(path, text, replace)
}

// startSetup finds a file that may be written: a new one, or one that the person
// lets go, whose settings are then what set-up begins with.
func startSetup(ctx context.Context, t setup.Talk, path string) (s setup.Start, file string, replace bool, err error) {
	for {
		info, err := os.Stat(path)
		if errors.Is(err, fs.ErrNotExist) {
			return setup.Start{Config: config.Default()}, path, false, nil
		}
		if err != nil {
			return s, "", false, fmt.Errorf("looking for settings: %w; name another file with --output", err)
		}
		if !info.Mode().IsRegular() {
			return s, "", false, fmt.Errorf("%s is not a file; name another with --output", path)
		}
		id := "exists"
		s = setup.Start{Known: true}
		if s.Config, err = config.Load(config.Sources{File: path}); err != nil {
			id, s = "broken", setup.Start{Config: config.Default()}
		}
		yes, err := setup.YesNo(ctx, t, id, path)
		if err != nil || yes {
			return s, path, true, err
		}
		name, err := setup.Profile(ctx, t)
		if err != nil {
			return s, "", false, err
		}
		path = filepath.Join(filepath.Dir(path), name)
	}
}

// writeSettings makes the file, whole or not at all. Without replace a file that
// has come there meanwhile is left alone.
func writeSettings(path, text string, replace bool) error {
	err := os.MkdirAll(filepath.Dir(path), 0o755)
	if err == nil && replace {
		path, err = filepath.EvalSymlinks(path)
	}
	if err != nil {
		return fmt.Errorf("making a place for the settings: %w; name another file with --output", err)
	}
	name := path
	if replace {
		name += ".new"
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("writing the settings: %w; remove that file, or name another with --output", err)
	}
	_, err = f.WriteString(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil && replace {
		err = os.Rename(name, path)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("writing the settings: %w; free some space, or name another file with --output", err), os.Remove(name))
	}
	return nil
}
