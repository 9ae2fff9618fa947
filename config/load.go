package config

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/go-viper/mapstructure/v2"
	"github.com/pelletier/go-toml/v2"
	"github.com/spf13/viper"
)

// maxFile bounds the settings file, bytes.
const maxFile = 1 << 16

// Sources says where settings come from.
type Sources struct {
	File  string            // --config; "" searches
	Env   []string          // as os.Environ gives it
	Flags map[string]string // flag name to text, only those that were given
}

// Load reads the settings: defaults, file, HALOCUE_* variables and flags. Where no
// file is named it takes the first there is of HALOCUE_CONFIG, halocue/halocue.toml
// in XDG_CONFIG_HOME (or ~/.config), and /etc/halocue/halocue.toml; none is no error.
func Load(s Sources) (Config, error) {
	path, text, err := find(s.File, s.Env)
	if err != nil {
		return Config{}, err
	}
	c, err := parse(text, environ(s.Env), s.Flags)
	if err != nil && path != "" {
		err = fmt.Errorf("settings file %s: %w", path, err)
	}
	c.File, c.Voice.Cache = path, voiceCache(s.Env)
	return c, err
}

// voiceCache is voice in the folder that systemd gives a service for its state, or
// halocue/voice among what the person's programs can make again.
func voiceCache(env []string) string {
	if state, _, _ := strings.Cut(Variable(env, "STATE_DIRECTORY"), ":"); state != "" { // systemd.exec(5): there may be several
		return filepath.Join(state, "voice")
	}
	return InFolder(env, "XDG_CACHE_HOME", ".cache", "voice")
}

// InFolder is a file of halocue in the folder that a variable of env names, or else in
// another below HOME; "" where neither is set (XDG Base Directory Specification).
func InFolder(env []string, variable, belowHome, file string) string {
	dir := Variable(env, variable)
	if dir == "" {
		home := Variable(env, "HOME")
		if home == "" {
			return ""
		}
		dir = filepath.Join(home, belowHome)
	}
	return filepath.Join(dir, "halocue", file)
}

// Parse reads settings from the text of a settings file alone.
func Parse(text string) (Config, error) { return parse(text, nil, nil) }

func parse(text string, env, flags map[string]string) (Config, error) {
	if err := shallow(text); err != nil {
		return Config{}, err
	}
	v := viper.New()
	v.SetConfigType("toml")
	if err := v.ReadConfig(strings.NewReader(text)); err != nil {
		return Config{}, badTOML(err)
	}
	if err := setEnv(v, env); err != nil {
		return Config{}, err
	}
	if err := setFlags(v, flags); err != nil {
		return Config{}, err
	}
	c, err := decode(v.AllSettings())
	if err != nil {
		return Config{}, err
	}
	return c, c.Check()
}

// Variable returns the value of a variable of env, which is as os.Environ gives it;
// "" where it is not set.
func Variable(env []string, name string) string { return environ(env)[name] }

// maxDepth is of tables within tables; ours go two deep.
const maxDepth = 16

// shallow refuses text whose keys, tables or lists are nested very deeply, before it is
// read: that takes time and memory with the square of the depth.
func shallow(text string) error {
	line, brackets, dots := 1, 0, 0
	var quote rune
	escaped := false
	for _, r := range text {
		if r == '\n' {
			line, dots, quote = line+1, 0, 0 // a text of several lines is none of ours
		}
		switch {
		case escaped:
			escaped = false
		case quote != 0:
			escaped = quote == '"' && r == '\\'
			if r == quote || quote == '#' && r == '\n' {
				quote = 0
			}
		case r == '"' || r == '\'' || r == '#':
			quote = r
		case r == '.':
			dots++
		case r == '[' || r == '{':
			brackets, dots = brackets+1, 0
		case r == ']' || r == '}':
			brackets, dots = brackets-1, 0
		case r == ',' || r == '=':
			dots = 0
		}
		if brackets > maxDepth || dots > maxDepth {
			return fmt.Errorf("line %d nests settings more than %d deep; compare it with the output of halocue settings", line, maxDepth)
		}
	}
	return nil
}

func environ(list []string) map[string]string {
	env := map[string]string{}
	for _, s := range list {
		if name, value, ok := strings.Cut(s, "="); ok {
			env[name] = value
		}
	}
	return env
}

func find(named string, env []string) (path, text string, err error) {
	if path = cmp.Or(named, Variable(env, "HALOCUE_CONFIG")); path != "" {
		text, err = read(path)
		return path, text, err
	}
	for _, path := range []string{InFolder(env, "XDG_CONFIG_HOME", ".config", "halocue.toml"), "/etc/halocue/halocue.toml"} {
		if path == "" {
			continue
		}
		if text, err = read(path); !errors.Is(err, fs.ErrNotExist) {
			return path, text, err
		}
	}
	return "", "", nil
}

func read(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", fmt.Errorf("reading the settings: %w; check the name, or leave --config out", err)
	}
	if !info.Mode().IsRegular() || info.Size() > maxFile {
		return "", fmt.Errorf("reading the settings: %s is not a settings file (a text file below 64 kB); name another with --config", path)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("reading the settings: %w; check who may read it", err)
	}
	return string(b), nil
}

func badTOML(err error) error {
	var e *toml.DecodeError
	if errors.As(err, &e) {
		line, column := e.Position()
		return fmt.Errorf("line %d, column %d cannot be read: %s; mend that line", line, column, strings.TrimPrefix(e.Error(), "toml: "))
	}
	return fmt.Errorf("this is not TOML: %w; compare it with the output of halocue settings", err)
}

func setEnv(v *viper.Viper, env map[string]string) error {
	known := map[string]Key{}
	for _, k := range Keys() {
		known[k.Env()] = k
	}
	tree := map[string]any{}
	for name, text := range env {
		if !strings.HasPrefix(name, "HALOCUE_") || name == "HALOCUE_CONFIG" {
			continue
		}
		k, ok := known[name]
		if !ok {
			return unknown(name, known)
		}
		x, err := k.Parse(text)
		if err != nil {
			return fmt.Errorf("variable %s: %w", name, err)
		}
		graft(tree, k.Path, x)
	}
	return v.MergeConfigMap(tree)
}

// graft puts x at a dotted path of a tree.
func graft(tree map[string]any, path string, x any) {
	section, name, _ := strings.Cut(path, ".")
	sub, ok := tree[section].(map[string]any)
	if !ok {
		sub = map[string]any{}
		tree[section] = sub
	}
	sub[name] = x
}

func setFlags(v *viper.Viper, flags map[string]string) error {
	known := map[string]Key{}
	for _, k := range Keys() {
		known[k.Flag] = k
	}
	for name, text := range flags {
		k, ok := known[name]
		if !ok {
			return unknown(name, known)
		}
		x, err := k.Parse(text)
		if err != nil {
			return fmt.Errorf("flag --%s: %w", name, err)
		}
		v.Set(k.Path, x)
	}
	return nil
}

// decode fills the defaults from the settings, exactly: no key that is not ours,
// no value of another type.
func decode(tree map[string]any) (Config, error) {
	c := Default()
	var meta mapstructure.Metadata
	d, err := mapstructure.NewDecoder(&mapstructure.DecoderConfig{Result: &c, Metadata: &meta, ZeroFields: true})
	if err != nil {
		return Config{}, fmt.Errorf("preparing to read the settings: %w", err)
	}
	err = d.Decode(tree)
	if len(meta.Unused) > 0 {
		known := map[string]Key{"mirror_cell.knobs.name": {}, "mirror_cell.knobs.clock": {}}
		for _, k := range Keys() {
			known[k.Path], known[k.Section()] = k, k
		}
		return Config{}, unknown(meta.Unused[0], known)
	}
	var wrong *mapstructure.DecodeError
	if errors.As(err, &wrong) {
		return Config{}, fmt.Errorf("%s is of the wrong kind; write it as the output of halocue settings has it, a number without quotes and a word within them", wrong.Name())
	}
	if err != nil {
		return Config{}, fmt.Errorf("a value has the wrong type: %w; compare it with the output of halocue settings", err)
	}
	return c, nil
}
