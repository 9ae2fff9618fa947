package house

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

const packaging = "../../packaging/"

// What systemd makes of the units: the threshold is ten times its figure.
func TestUnitIsHardened(t *testing.T) {
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Skip("there is no systemd-analyze; install systemd")
	}
	for unit, most := range map[string]string{"halocue.service": "11", "halocue-buttons.service": "7"} {
		out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", "--threshold="+most, packaging+unit).CombinedOutput()
		if err != nil {
			t.Errorf("%s: %v\n%s", unit, err, out)
		}
	}
}

// Who reads the network reads no keys, and who reads keys knows no network.
func TestUnitsShareNothing(t *testing.T) {
	unit, err := os.ReadFile(packaging + "halocue.service")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"\nMemoryMax=", "\nTasksMax=", "\nUMask=0077\n", "\nSystemCallFilter=seccomp landlock_create_ruleset landlock_add_rule landlock_restrict_self\n", "\nProcSubset=pid\n"} {
		if !strings.Contains(string(unit), line) {
			t.Errorf("the unit has no %q", strings.TrimSpace(line))
		}
	}
	keys, err := os.ReadFile(packaging + "halocue-buttons.service")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(keys), "\nPrivateNetwork=yes\n") || strings.Contains(string(keys), "AF_INET") {
		t.Error("who reads keys knows the network")
	}
	for _, line := range strings.Split(string(unit), "\n") {
		if (strings.HasPrefix(line, "DeviceAllow=") || strings.HasPrefix(line, "SupplementaryGroups=")) && strings.Contains(line, "input") {
			t.Errorf("who reads the network has %s", line)
		}
		if paths, ok := strings.CutPrefix(line, "ReadWritePaths="); ok {
			for _, path := range strings.Fields(paths) {
				if !strings.HasSuffix(path, "/leds") {
					t.Errorf("it may write to %s", path)
				}
			}
		}
	}
}

// The rule runs no shell, and is for the board's own lights.
func TestUdevRule(t *testing.T) {
	rule, err := os.ReadFile(packaging + "halocue.rules")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(rule), "\n") {
		if line == "" || line[0] == '#' {
			continue
		}
		if strings.Contains(line, "sh -c") || strings.Contains(line, "PROGRAM") || !strings.Contains(line, `DEVPATH=="/devices/platform/`) {
			t.Errorf("%s", line)
		}
	}
}

// The package's scripts end well where systemd and udev do not answer.
func TestPackageScriptsWithoutSystemd(t *testing.T) {
	dir := t.TempDir()
	asked := filepath.Join(dir, "asked")
	for _, tool := range []string{"systemctl", "udevadm", "systemd-sysusers"} {
		if err := os.WriteFile(filepath.Join(dir, tool), []byte("#!/bin/sh\necho $0 $@ >>"+asked+"; exit 1\n"), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range [][]string{
		{"postinst", "configure", ""}, {"postinst", "configure", "1.0"}, {"prerm", "remove"}, {"prerm", "upgrade", "2.0"}, {"postrm", "remove"},
	} {
		cmd := exec.Command("sh", append([]string{packaging + c[0]}, c[1:]...)...)
		cmd.Env = []string{"PATH=" + dir + ":/usr/bin:/bin"}
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("%v: %v\n%s", c, err, out)
		}
	}
	said, err := os.ReadFile(asked)
	if err != nil {
		t.Fatal(err)
	}
	for _, what := range []string{"systemctl enable halocue.service", "systemctl disable halocue.service", "systemd-sysusers halocue.conf"} {
		if !strings.Contains(string(said), what) {
			t.Errorf("nobody asked for %s", what)
		}
	}
	script, err := os.ReadFile(packaging + "postinst")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(script), "try-restart halocue-buttons.service halocue.service") {
		t.Error("an upgrade leaves the old program running")
	}
}
