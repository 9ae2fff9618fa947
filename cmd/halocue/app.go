package main

import (
	"io"
	"strings"

	"halocue/config"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// app is the world as the commands see it: a test gives them another.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	env            []string // as os.Environ gives it
	root           string   // of the kernel's files; "" is /
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
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if v, ok := f.Value.(*settingFlag); ok {
			s.Flags[f.Name] = v.text
		}
		if f.Name == "config" {
			s.File = f.Value.String()
		}
	})
	return config.Load(s)
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
