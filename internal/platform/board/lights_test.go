package board

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// tree makes files below a new folder.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		put(t, root, name, text)
	}
	return root
}

// put changes a file at once, as a kernel's file changes.
func put(t *testing.T, root, name, text string) {
	t.Helper()
	path := filepath.Join(root, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	half := filepath.Join(root, "half-written")
	if err := os.WriteFile(half, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(half, path); err != nil {
		t.Fatal(err)
	}
}

// lit are the lights of a Raspberry Pi 4 as its kernel shows them, and one of a
// board whose kernel knows no triggers.
func lit(t *testing.T) string {
	const leds = "sys/class/leds/"
	return tree(t, map[string]string{
		leds + "ACT/brightness": "0\n", leds + "ACT/trigger": "none rc-feedback kbd-capslock timer [mmc0] heartbeat\n",
		leds + "PWR/brightness": "255\n", leds + "PWR/trigger": "[none] mmc0 timer\n",
		leds + "plain/brightness": "1\n",
	})
}

// shown is what the kernel would show: the trigger that was written last.
func shown(t *testing.T, root string) string {
	t.Helper()
	var all []string
	for _, name := range []string{"ACT", "PWR", "plain"} {
		one, err := read(filepath.Join(root, "sys/class/leds", name))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, strings.Join([]string{name, one.Brightness, one.Trigger}, " "))
	}
	return strings.Join(all, ", ")
}

const (
	asFound = "ACT 0 mmc0, PWR 255 none, plain 1 "
	allOut  = "ACT 0 none, PWR 0 none, plain 0 "
)

func TestLightsGoOutAndComeBack(t *testing.T) {
	root := lit(t)
	l, err := Dark(root, "")
	if got := shown(t, root); err != nil || got != allOut {
		t.Errorf("dark: %s, %v", got, err)
	}
	if err := l.Restore(); err != nil || shown(t, root) != asFound {
		t.Errorf("restored: %s, %v", shown(t, root), err)
	}
}

// Killed while it was dark: the next one restores what was before the first.
func TestLightsOfAKilledProgram(t *testing.T) {
	root, keep := lit(t), filepath.Join(t.TempDir(), "lights.json")
	if _, err := Dark(root, keep); err != nil {
		t.Fatal(err)
	}
	l, err := Dark(root, keep)
	if got := shown(t, root); err != nil || got != allOut {
		t.Errorf("dark: %s, %v", got, err)
	}
	if err := l.Restore(); err != nil || shown(t, root) != asFound {
		t.Errorf("restored: %s, %v", shown(t, root), err)
	}
	if _, err := os.Stat(keep); !os.IsNotExist(err) {
		t.Errorf("what was kept is still there: %v", err)
	}
	put(t, filepath.Dir(keep), filepath.Base(keep), "no list")
	if _, err := Dark(root, keep); err == nil || !strings.Contains(err.Error(), keep) || shown(t, root) != asFound {
		t.Errorf("with a list that cannot be read: %v, and %s", err, shown(t, root))
	}
}

// A light that cannot be written is reported by name, and the others go out.
func TestLightThatCannotBeWritten(t *testing.T) {
	root := lit(t)
	path := filepath.Join(root, "sys/class/leds/PWR/brightness")
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(path, 0o700); err != nil { // nobody can write a folder, not even root
		t.Fatal(err)
	}
	put(t, root, "sys/class/leds/PWR2/brightness", "3")
	l, err := Dark(root, "")
	if err == nil || !strings.Contains(err.Error(), "light PWR:") {
		t.Errorf("got %v", err)
	}
	if got := text(filepath.Join(root, "sys/class/leds/PWR2/brightness")); got != "0" {
		t.Errorf("another light has %s", got)
	}
	if err := l.Restore(); err != nil || text(filepath.Join(root, "sys/class/leds/PWR2/brightness")) != "3" {
		t.Errorf("restored: %v", err)
	}
}

func TestNoLights(t *testing.T) {
	root, keep := t.TempDir(), filepath.Join(t.TempDir(), "lights.json")
	l, err := Dark(root, keep)
	if err != nil || l.Restore() != nil {
		t.Errorf("got %v", err)
	}
}
