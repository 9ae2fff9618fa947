package house

import (
	"bytes"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// root is the repository, seen from this package.
const root = "../.."

// longest is the most lines a file may have: more than that no one holds in the head.
const longest = 400

// text lists the files that people write, by their path from the root.
func text(t *testing.T) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.Name() == ".git" { // in a further working tree of Git's a file, with a path of the machine
			if d.IsDir() {
				return filepath.SkipDir
			}
			return nil
		}
		if d.IsDir() {
			if name := d.Name(); name == "bin" || name == "out" || name == "fuzz" {
				return filepath.SkipDir
			}
			return nil
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if !bytes.Contains(b[:min(len(b), 8000)], []byte{0}) {
			rel, err := filepath.Rel(root, path)
			if err != nil {
				return err
			}
			files[rel] = b
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < 20 {
		t.Fatalf("found only %d files: is %s the repository?", len(files), root)
	}
	return files
}

func TestFilesAreShort(t *testing.T) {
	for path, b := range text(t) {
		if n := bytes.Count(b, []byte("\n")); written(path) && n > longest {
			t.Errorf("%s has %d lines, more than %d: split it by idea", path, n, longest)
		}
	}
}

// written tells code and prose from data.
func written(path string) bool {
	switch filepath.Ext(path) {
	case ".go", ".md", ".sh", ".h", ".c", ".py":
		return !strings.Contains(path, "testdata/")
	}
	return strings.HasPrefix(path, "scripts/") || path == "Makefile"
}

// Words that have no place in the tree, and why. In pieces, so that this file
// does not hold them.
var unwanted = map[string]*regexp.Regexp{
	"unfinished work":          regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME)\b`),
	"a paper that is not here": regexp.MustCompile(`(?i)\b(refer` + `ence|des` + `ign) (sec` + `tion )?\d|\brefer` + `ence\.md\b|\.\./sha` + `red\b`),
	"a path of one machine":    regexp.MustCompile(`/wo` + `rk/|/ro` + `ot/|/ho` + `me/[a-z]+/`),
	"how it was written":       regexp.MustCompile(`(?i)\bse` + `ed docum|\bcl` + `aude\b|\banth` + `ropic\b|\bL` + `LM\b|lang` + `uage model\b.*wrote`),
	"a skip without reason":    regexp.MustCompile(`\.Skip` + `(Now)?\(\)`),
}

func TestUnwantedWords(t *testing.T) {
	for path, b := range text(t) {
		if path == "go.sum" {
			continue
		}
		for why, word := range unwanted {
			if at := word.FindIndex(b); at != nil {
				line := 1 + bytes.Count(b[:at[0]], []byte("\n"))
				t.Errorf("%s:%d: %q is %s", path, line, b[at[0]:at[1]], why)
			}
		}
	}
}

func TestEachPackageHasOneDoc(t *testing.T) {
	docs, packages := map[string][]string{}, map[string]bool{}
	for path, b := range text(t) {
		if filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") || strings.Contains(path, "testdata/") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, b, parser.PackageClauseOnly|parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		dir := filepath.Dir(path)
		packages[dir] = true
		if file.Doc != nil {
			docs[dir] = append(docs[dir], path)
			if name := file.Name.Name; name != "main" && !strings.HasPrefix(file.Doc.Text(), "Package "+name+" ") {
				t.Errorf("the doc comment in %s does not begin with %q", path, "Package "+name)
			}
		}
	}
	for dir := range packages {
		if len(docs[dir]) != 1 {
			t.Errorf("package %s has its doc comment in %d files, want one: %v", dir, len(docs[dir]), docs[dir])
		}
	}
}

var link = regexp.MustCompile(`\]\(([^)#\s]+)`)

func TestNoDeadLinks(t *testing.T) {
	for path, b := range text(t) {
		if filepath.Ext(path) != ".md" {
			continue
		}
		for _, m := range link.FindAllSubmatch(b, -1) {
			to := string(m[1])
			if strings.Contains(to, "://") || strings.HasPrefix(to, "mailto:") {
				continue
			}
			target := filepath.Join(filepath.Dir(path), to)
			if strings.HasPrefix(target, "..") {
				t.Errorf("%s links to %s, outside the repository", path, to)
			} else if _, err := os.Stat(filepath.Join(root, target)); err != nil {
				t.Errorf("%s links to %s: %v", path, to, err)
			}
		}
	}
}

func TestReadmeShowsTheTwoCommands(t *testing.T) {
	readme := string(text(t)["README.md"])
	for _, command := range []string{"make demo", "make test"} {
		if !strings.Contains(readme, "\n    "+command) && !strings.Contains(readme, "\n"+command) {
			t.Errorf("README.md does not show %q on a line of its own", command)
		}
	}
	if makefile := string(text(t)["Makefile"]); !strings.Contains(makefile, "\ndemo:") || !strings.Contains(makefile, "\ntest:") {
		t.Error("the Makefile lacks demo or test")
	}
}
