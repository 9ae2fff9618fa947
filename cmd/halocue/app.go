package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"halocue/config"
	"halocue/internal/board"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// app is the world as the commands see it: a test gives them another.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	env            []string                     // as os.Environ gives it
	root           string                       // of the kernel's files; "" is /
	clock          func() time.Time             // nil is time.Now
	dark           atomic.Pointer[board.Lights] // that are out, or nil
}

// cutShort does what cannot wait for the end when there will be none.
func (a *app) cutShort() {
	if lights := a.dark.Load(); lights != nil {
		if err := lights.Restore(); err != nil {
			fmt.Fprintf(a.stderr, "halocue: %v\n", err)
		}
	}
}

// now is the time on the wall.
func (a *app) now() time.Time {
	if a.clock == nil {
		return time.Now()
	}
	return a.clock()
}

// lookup returns the value of a variable, "" where it is not set.
func lookup(env []string, name string) string {
	for _, s := range env {
		if value, ok := strings.CutPrefix(s, name+"="); ok {
			return value
		}
	}
	return ""
}

// settingFlags gives the command --config and one flag for every setting of the
// named sections ("telescope", "camera", ...).
func settingFlags(cmd *cobra.Command, sections ...string) {
	flags := cmd.Flags()
	flags.String("config", "", "`FILE` with the settings")
	flags.String("profile", "", "`NAME` of the telescope, whose settings halocue setup --profile NAME wrote")
	for _, section := range sections {
		for _, k := range config.Keys() {
			if k.Section() == section {
				flags.Var(&settingFlag{key: k}, k.Flag, k.Help)
				if k.IsBool() {
					flags.Lookup(k.Flag).NoOptDefVal = "true"
				}
			}
		}
	}
}

// settings loads the settings: defaults, file, variables, and the flags given to cmd.
func (a *app) settings(cmd *cobra.Command) (config.Config, error) {
	s := config.Sources{Env: a.env, Flags: map[string]string{}}
	profile := ""
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if v, ok := f.Value.(*settingFlag); ok {
			s.Flags[f.Name] = v.text
		}
		switch f.Name {
		case "config":
			s.File = f.Value.String()
		case "profile":
			profile = f.Value.String()
		}
	})
	if profile != "" {
		var err error
		if s.File, err = profileFile(a.env, s.File, profile); err != nil {
			return config.Config{}, err
		}
	}
	return config.Load(s)
}

// profileFile is the settings file of a telescope that has been set up.
func profileFile(env []string, file, profile string) (string, error) {
	if file != "" {
		return "", usageError{errors.New("--config and --profile both name the settings: give one of them")}
	}
	path, err := setupPath(env, "", profile)
	if err != nil {
		return "", err
	}
	if _, err := os.Stat(path); err == nil {
		return path, nil
	}
	there, err := filepath.Glob(filepath.Join(filepath.Dir(path), "halocue-*.toml"))
	if err != nil || len(there) == 0 {
		return "", fmt.Errorf("there is no telescope %q yet; make it with halocue setup --profile %s", profile, profile)
	}
	for i, name := range there {
		there[i] = strings.TrimSuffix(strings.TrimPrefix(filepath.Base(name), "halocue-"), ".toml")
	}
	return "", fmt.Errorf("there is no telescope %q; there are: %s; make it with halocue setup --profile %s", profile, strings.Join(there, ", "), profile)
}

// settingFlag is the flag of one setting: it refuses at once what the setting
// cannot be.
type settingFlag struct {
	key  config.Key
	text string
}

func (f *settingFlag) String() string { return f.text }
func (f *settingFlag) Type() string   { return f.key.Placeholder() }
func (f *settingFlag) Set(text string) error {
	_, err := f.key.Parse(text)
	f.text = text
	return err
}
