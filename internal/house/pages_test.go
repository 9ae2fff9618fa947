package house

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var (
	aPath     = regexp.MustCompile(`(?:^|[\s(\x60])(?:\./)?((?:internal|vision|audio|prompts|cmd|docs|testdata|scripts|packaging)/[\w./-]+)`)
	aTestRun  = regexp.MustCompile(`go test ((?:[^\x60\n]|\n[^\n])*)`)
	aPackage  = regexp.MustCompile(`(?:^|\s)\./([\w/]*\w)(/\.\.\.)?`)
	itsRun    = regexp.MustCompile(`-(?:run|bench)[ =](?:'([^']+)'|(\S+))`)
	aFunction = regexp.MustCompile(`(?m)^func ((?:Test|Benchmark|Fuzz)\w*)`)
)

// What a page names is there: files and packages, and the tests that make its figures,
// in the packages that it names with them.
func TestPagesNameWhatThereIs(t *testing.T) {
	files := text(t)
	tests := map[string][]string{} // by package
	for path, b := range files {
		if strings.HasSuffix(path, "_test.go") {
			for _, m := range aFunction.FindAllSubmatch(b, -1) {
				tests[filepath.Dir(path)] = append(tests[filepath.Dir(path)], string(m[1]))
			}
		}
	}
	seen := 0
	for page, b := range files {
		if filepath.Ext(page) != ".md" {
			continue
		}
		for _, m := range aPath.FindAllSubmatch(b, -1) {
			path := strings.TrimRight(string(m[1]), "./")
			if _, err := os.Stat(filepath.Join(root, path)); err != nil && !strings.HasSuffix(path, "-") && !strings.Contains(path, "LANGUAGE") {
				t.Errorf("%s names %s: %v", page, path, err)
			}
		}
		for _, m := range aTestRun.FindAllSubmatch(b, -1) {
			command, _, _ := strings.Cut(string(m[1]), "\n    ") // the next line of a list of commands
			var there []string
			for _, p := range aPackage.FindAllStringSubmatch(command, -1) {
				for dir, names := range tests {
					if dir == p[1] || p[2] != "" && strings.HasPrefix(dir, p[1]+"/") {
						there = append(there, names...)
					}
				}
			}
			for _, run := range itsRun.FindAllStringSubmatch(command, -1) {
				for _, name := range strings.Split(run[1]+run[2], "|") {
					name, _, _ = strings.Cut(strings.Trim(name, `^$\`), "/")
					seen++
					if name != "" && name != "XXX" && name != "NAME" && !slices.ContainsFunc(there, func(f string) bool { return strings.Contains(f, name) }) {
						t.Errorf("%s: no test %q in the packages of: go test %.120s", page, name, command)
					}
				}
			}
		}
	}
	if seen < 30 {
		t.Errorf("only %d names of tests were found", seen)
	}
}
