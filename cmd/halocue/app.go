package main

import (
	"errors"
	"fmt"
	"slices"

	"halocue/config"
	"halocue/internal/run/parts"
	"halocue/internal/setup"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// app is the program, with all that lies outside it as parameters, so that a test can
// replace that.
type app struct{ parts.World }

// cutShort does what even a program that is killed early must not leave undone.
func (a *app) cutShort() { a.Complain(a.RestoreLights()) }

// settingFlags gives the command --config, --profile and one flag for every setting of
// the named sections ("telescope", "camera", ...); and --quiet where it has sound.
func settingFlags(cmd *cobra.Command, sections ...string) {
	flags := cmd.Flags()
	flags.String("config", "", "`FILE` with the settings")
	flags.String("profile", "", "`NAME` of the telescope, as in halocue setup --profile NAME")
	under(cmd, besides, "config")
	if slices.Contains(sections, "sound") {
		quietFlag(cmd)
	}
	for _, section := range sections {
		for _, k := range config.Keys() {
			if k.Section() == section {
				settingFlagOf(cmd, k, k.Explained())
				for _, h := range headings {
					if h.section == section {
						under(cmd, h.title, k.Flag)
					}
				}
			}
		}
	}
}

// quietFlag is for a screen reader, which would read again what is spoken.
func quietFlag(cmd *cobra.Command) {
	cmd.Flags().Bool("quiet", false, "print nothing that is also spoken")
}

// settingFlagOf gives the command the flag of one setting.
func settingFlagOf(cmd *cobra.Command, k config.Key, help string) {
	cmd.Flags().Var(&settingFlag{key: k}, k.Flag, help)
	if k.IsBool() {
		cmd.Flags().Lookup(k.Flag).NoOptDefVal = "true"
	}
	cmd.Flags().Lookup(k.Flag).DefValue = k.BuiltIn()
}

// oneSetting gives the command the flag of a single setting, by its path, where the others
// of its section make no sense.
func oneSetting(cmd *cobra.Command, path string) {
	for _, k := range config.Keys() {
		if k.Path == path {
			settingFlagOf(cmd, k, k.Help)
		}
	}
}

// given are the settings that the command line gives, and the profile.
func (a *app) given(cmd *cobra.Command) (s config.Sources, profile string) {
	s = config.Sources{Env: a.Env, Flags: map[string]string{}}
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if v, ok := f.Value.(*settingFlag); ok {
			s.Flags[f.Name] = v.text
		}
		switch f.Name {
		case "config":
			s.File = f.Value.String()
		case "profile":
			profile = f.Value.String()
		case "quiet":
			a.Quiet = f.Value.String() == "true"
		}
	})
	return s, profile
}

// settings loads the settings: defaults, file, variables, and the flags given to cmd.
func (a *app) settings(cmd *cobra.Command) (config.Config, error) {
	s, profile := a.given(cmd)
	if profile != "" {
		if s.File != "" {
			return config.Config{}, usageError{errors.New("--config and --profile both name the settings: give one of them")}
		}
		err := checkProfile(profile)
		if err == nil {
			s.File, err = setup.ProfileFile(a.Env, profile)
		}
		if err != nil {
			return config.Config{}, err
		}
	}
	return config.Load(s)
}

// with has a command do something with the settings.
func (a *app) with(do func(cmd *cobra.Command, c config.Config, args []string) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		c, err := a.settings(cmd)
		if err != nil {
			return err
		}
		return do(cmd, c, args)
	}
}

// validSettings loads settings with which a telescope can be measured.
func (a *app) validSettings(cmd *cobra.Command) (config.Config, error) {
	c, err := a.settings(cmd)
	if err == nil {
		err = c.Validate()
	}
	return c, err
}

// checkProfile refuses a name that no file can have.
func checkProfile(name string) error {
	if _, err := setup.FileName(name); name != "" && err != nil {
		return usageError{fmt.Errorf("--profile: %w", err)}
	}
	return nil
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

// clockFlags are the flags of every command that reads a camera by the wall clock or by
// the frame count.
type clockFlags struct {
	clock string
	fps   float64
}

func (g *clockFlags) add(cmd *cobra.Command, fps float64) {
	cmd.Flags().StringVar(&g.clock, "clock", "wall", "`CLOCK`: wall, or frames for time by the frame count")
	cmd.Flags().Float64Var(&g.fps, "fps", fps, "`N` frames a second, of files and of the frame clock")
	under(cmd, besides, "clock", "fps")
}

// frames reports whether time goes by the frame count.
func (g clockFlags) frames() (bool, error) {
	if g.clock != "frames" && g.clock != "wall" {
		return false, usageError{fmt.Errorf("--clock %q: choose wall or frames", g.clock)}
	}
	if !(g.fps >= 0.1 && g.fps <= 1000) {
		return false, usageError{fmt.Errorf("--fps %g: give 0.1 to 1000", g.fps)}
	}
	return g.clock == "frames", nil
}
