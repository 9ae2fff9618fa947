package setup

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"halocue/config"
)

// Path is the file of a telescope's settings in the folder of env's person; "" is the
// usual one.
func Path(env []string, profile string) (string, error) {
	name := "halocue.toml"
	if profile != "" {
		var err error
		if name, err = FileName(profile); err != nil {
			return "", err
		}
	}
	path := config.InFolder(env, "XDG_CONFIG_HOME", ".config", name)
	if path == "" {
		return "", errors.New("finding the place for the settings: neither HOME nor XDG_CONFIG_HOME is set; name a file with --output")
	}
	return path, nil
}

// ProfileFile is the settings file of a telescope that has been set up.
func ProfileFile(env []string, profile string) (string, error) {
	path, err := Path(env, profile)
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

// ProfileOf is the name of the telescope whose settings the file holds, "" for none.
func ProfileOf(env []string, path string) string {
	name, ok := strings.CutPrefix(strings.TrimSuffix(filepath.Base(path), ".toml"), "halocue-")
	if usual, err := Path(env, name); !ok || err != nil || usual != path {
		return ""
	}
	return name
}

// Save writes the settings to path. In a file that is there only what differs is
// changed; one that cannot be changed so stays beside the new one, as the file aside.
func Save(c config.Config, path string, replace bool) (aside string, err error) {
	if replace {
		old, err := os.ReadFile(path)
		if err != nil {
			return "", fmt.Errorf("reading the settings again: %w; run halocue setup once more", err)
		}
		if text, err := config.Edit(string(old), c); err == nil {
			return "", write(path, text, true)
		}
		if aside, err = putAside(path, old); err != nil {
			return "", fmt.Errorf("keeping the old settings: %w; free some space, or name another file with --output", err)
		}
	}
	text, err := tomlOf(c)
	if err != nil {
		return aside, err
	}
	return aside, write(path, text, replace)
}

// putAside writes the old settings to a file beside the new ones.
func putAside(path string, old []byte) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".old-*")
	if err != nil {
		return "", err
	}
	_, err = f.Write(old)
	return f.Name(), errors.Join(err, f.Close())
}

// Begin finds a file that may be written: a new one, or one that the person
// lets go, whose settings are then what set-up begins with. It asks in a language, which
// new settings begin with.
func Begin(ctx context.Context, t Talk, path, language string) (s Start, file string, replace bool, err error) {
	w, fresh := tongueOf(language), config.Default()
	fresh.Voice.Language = language
	for {
		info, err := os.Stat(path)
		if errors.Is(err, fs.ErrNotExist) {
			return Start{Config: fresh}, path, false, nil
		}
		if err != nil {
			return s, "", false, fmt.Errorf("looking for settings: %w; name another file with --output", err)
		}
		if !info.Mode().IsRegular() {
			return s, "", false, fmt.Errorf("%s is not a file; name another with --output", path)
		}
		id := "exists"
		s = Start{Known: true}
		if s.Config, err = config.Load(config.Sources{File: path}); err != nil {
			id, s = "broken", Start{Config: fresh}
		}
		yes, err := once(ctx, t, w, id, w.yesNo, path)
		if err != nil || yes {
			return s, path, true, err
		}
		name, err := once(ctx, t, w, "profile", FileName)
		if err != nil {
			return s, "", false, err
		}
		path = filepath.Join(filepath.Dir(path), name)
	}
}

// write makes the file, whole or not at all. Without replace a file that
// has come there meanwhile is left alone.
func write(path, text string, replace bool) error {
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
