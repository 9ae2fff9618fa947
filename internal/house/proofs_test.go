package house

import (
	"bytes"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var proof = regexp.MustCompile(`(?m)^func TestProve(\w+)\(`)

// DEVELOPERS.md says of each proof why it is none of the tests, and names no other.
func TestProofsAreExplained(t *testing.T) {
	files := text(t)
	_, table, _ := strings.Cut(string(files["DEVELOPERS.md"]), "\n### The proofs\n")
	table, _, _ = strings.Cut(table, "\n## ")
	said, there := map[string]bool{}, map[string]bool{}
	for _, row := range strings.Split(table, "\n") {
		if cells := strings.Split(row, "|"); len(cells) > 4 && !strings.Contains(cells[2], "...") && !strings.Contains(cells[2], "---") {
			for _, name := range strings.Split(cells[2], ",") {
				said[strings.TrimSpace(name)] = true
			}
		}
	}
	for path, b := range files {
		if !strings.HasSuffix(path, "_test.go") {
			continue
		}
		for _, m := range proof.FindAllSubmatch(b, -1) {
			if !said[string(m[1])] {
				t.Errorf("%s: DEVELOPERS.md does not say why TestProve%s is a proof", path, m[1])
			}
			there[string(m[1])] = true
		}
	}
	for name := range said {
		if !there[name] {
			t.Errorf("DEVELOPERS.md: there is no TestProve%s", name)
		}
	}
}

var beside = regexp.MustCompile(`(?m)^\s*go (func|[\w.]+)\(|"sync(/atomic)?"`)

// What has goroutines or locks is tested under the race detector, where that can build it.
func TestGoroutinesAreRaced(t *testing.T) {
	files := text(t)
	raced := func(dir string) bool {
		for _, p := range makeList(files, "RACED") {
			under, all := strings.CutSuffix(strings.TrimPrefix(p, "./"), "/...")
			if dir == under || all && strings.HasPrefix(dir, under+"/") {
				return true
			}
		}
		return strings.HasPrefix(dir, "cmd/") || strings.HasPrefix(dir, "scripts/") || strings.HasPrefix(dir, "audio/device") || dir == "vision/visiontest"
	}
	for path, b := range files {
		if dir := filepath.Dir(path); strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") && beside.Match(b) && !raced(dir) {
			t.Errorf("%s: the Makefile's RACED lacks ./%s", path, dir)
		}
	}
}

var tests = regexp.MustCompile(`(?m)^func Test(\w+)\(`)

// Each test that is left out under the race detector is there; and each that cannot be
// built with it is run without.
func TestAloneAreThere(t *testing.T) {
	files, there, unbuilt := text(t), map[string]bool{}, map[string]bool{}
	for path, b := range files {
		if strings.HasSuffix(path, "_test.go") {
			for _, m := range tests.FindAllSubmatch(b, -1) {
				there[string(m[1])] = true
				if bytes.HasPrefix(b, []byte("//go:build !race\n")) {
					unbuilt[string(m[1])] = true
				}
			}
		}
	}
	for _, name := range makeList(files, "ALONE") {
		if !there[name] {
			t.Errorf("the Makefile's ALONE: there is no Test%s", name)
		}
		delete(unbuilt, name)
	}
	for name := range unbuilt {
		t.Errorf("the Makefile's ALONE lacks Test%s, which is built without the race detector only", name)
	}
}

// makeList returns the words of a variable of the Makefile.
func makeList(files map[string][]byte, name string) []string {
	_, list, _ := strings.Cut(strings.ReplaceAll(string(files["Makefile"]), "\\\n", ""), "\n"+name+" := ")
	list, _, _ = strings.Cut(list, "\n")
	return strings.Fields(list)
}
