package house

import (
	"encoding/json"
	"errors"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// notice reads a table of NOTICE: what stands in front of the first bar of each
// indented line, and what stands behind it.
func notice(t *testing.T, section string) map[string]string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root, "NOTICE"))
	if err != nil {
		t.Fatal(err)
	}
	_, after, found := strings.Cut("\n"+string(text), "\n"+section+". ")
	if !found {
		t.Fatalf("NOTICE has no section %s", section)
	}
	after = regexp.MustCompile(`\n\d\. `).Split(after, 2)[0]
	rows := map[string]string{}
	for _, line := range strings.Split(after, "\n") {
		if name, rest, ok := strings.Cut(line, " | "); ok && strings.HasPrefix(line, "    ") {
			rows[strings.TrimSpace(name)] = rest
		}
	}
	return rows
}

// same reports what one side lists and the other does not.
func same(t *testing.T, what string, inNotice, needed map[string]string) {
	t.Helper()
	if len(needed) == 0 {
		t.Errorf("no %s found: the test does not look where they are", what)
	}
	for _, name := range slices.Sorted(maps.Keys(needed)) {
		if _, ok := inNotice[name]; !ok {
			t.Errorf("%s %s is missing from NOTICE: add its licence", what, name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(inNotice)) {
		if _, ok := needed[name]; !ok {
			t.Errorf("%s %s stands in NOTICE and is not used: take it out", what, name)
		}
	}
}

type linked struct {
	ImportPath, Dir string
	Standard        bool
	Imports         []string
	TestImports     []string
	XTestImports    []string
	CgoPkgConfig    []string
	CgoLDFLAGS      []string
	CXXFiles        []string
	Module          *struct {
		Path, Dir      string
		Main, Indirect bool
	}
}

func packagesOf(t *testing.T, args ...string) (all []linked) {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list", "-json=ImportPath,Dir,Standard,Imports,TestImports,XTestImports,CgoPkgConfig,CgoLDFLAGS,CXXFiles,Module"}, args...)...)
	cmd.Dir = root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=1")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p linked
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

// phrases tell a licence by its text.
var phrases = map[string]string{
	"MIT":          "Permission is hereby granted, free of charge",
	"BSD-2-Clause": "Redistribution and use in source and binary forms",
	"BSD-3-Clause": "may be used to endorse or promote products",
	"Apache-2.0":   "Apache License",
	"CC-BY-4.0":    "Creative Commons Attribution 4.0 International",
	"FTL":          "The FreeType License",
}

func TestNoticeNamesWhatIsLinked(t *testing.T) {
	modules, libraries := map[string]string{"std": ""}, map[string]string{}
	for _, p := range packagesOf(t, "-deps", "./cmd/halocue", "./cmd/halocue-opencv") {
		if p.Module != nil && !p.Module.Main {
			modules[p.Module.Path] = p.Module.Dir
		}
		for _, name := range p.CgoPkgConfig {
			libraries[name] = p.ImportPath
		}
		for _, flag := range p.CgoLDFLAGS {
			if name, ok := strings.CutPrefix(flag, "-l"); ok {
				libraries[name] = p.ImportPath
			}
		}
		if len(p.CXXFiles) > 0 {
			libraries["stdc++"] = p.ImportPath
		}
	}
	rows := notice(t, "1")
	same(t, "Go module", rows, modules)
	same(t, "C library", notice(t, "2"), libraries)
	delete(modules, "std")
	for path, dir := range modules {
		var files []string
		for _, name := range []string{"LICENSE*", "COPYING*"} {
			more, err := filepath.Glob(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			files = append(files, more...)
		}
		if len(files) == 0 {
			t.Errorf("%s has no licence file in %s", path, dir)
			continue
		}
		var text string
		for _, file := range files {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			text += strings.Join(strings.Fields(strings.ReplaceAll(string(b), "\n>", "\n")), " ")
		}
		licence, _, _ := strings.Cut(rows[path], " | ")
		licence, _, _ = strings.Cut(licence, ";")
		if phrase := phrases[licence]; phrase == "" || !strings.Contains(text, phrase) {
			t.Errorf("NOTICE says %q of %s, and its licence file does not read like that", licence, path)
		}
	}
}

func TestNoticeNamesTheProgramsOfThePackage(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "packaging/nfpm.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), "\ndepends:")
	asked, _, _ := strings.Cut(rest, "\ncontents:")
	programs := notice(t, "3")
	found := regexp.MustCompile(`(?m)^  - ([a-z][a-z0-9.-]+)$`).FindAllStringSubmatch(asked, -1)
	if len(found) < 4 {
		t.Fatalf("only %d packages found in packaging/nfpm.yaml", len(found))
	}
	for _, m := range found {
		if programs[m[1]] == "" {
			t.Errorf("packaging/nfpm.yaml asks for %s, which is missing from NOTICE: add its licence", m[1])
		}
	}
}

// Data comes with where it is from: each folder of testdata, and what is embedded
// from elsewhere.
func TestNoticeNamesTheData(t *testing.T) {
	data := map[string]string{"internal/sky/bright-stars.csv": ""}
	for path := range text(t) {
		dirs := strings.Split(filepath.ToSlash(path), "/")
		at := slices.Index(dirs, "testdata")
		switch {
		case at < 0:
		case at == 0: // the folders in testdata each have a source of their own
			data["testdata/"+dirs[1]] = ""
		default:
			data[strings.Join(dirs[:at+1], "/")] = ""
		}
	}
	// Found by fuzz tests, and so not among what people write.
	for _, dir := range []string{"vision/camera/mjpeg/testdata", "vision/ring/testdata"} {
		if _, err := os.Stat(filepath.Join(root, dir)); err == nil {
			data[dir] = ""
		}
	}
	same(t, "data", notice(t, "4"), data)
}

// What a package of ours imports is a direct dependency, and nothing else is.
func TestDependenciesAreDirect(t *testing.T) {
	imported := map[string]bool{}
	for _, p := range packagesOf(t, "./...") {
		for _, path := range slices.Concat(p.Imports, p.TestImports, p.XTestImports) {
			imported[path] = true
		}
	}
	direct, marked := map[string]bool{}, map[string]bool{}
	for _, p := range packagesOf(t, "-deps", "-test", "./...") {
		if p.Module != nil && !p.Module.Main {
			direct[p.Module.Path] = direct[p.Module.Path] || imported[p.ImportPath]
			marked[p.Module.Path] = p.Module.Indirect
		}
	}
	if len(marked) == 0 {
		t.Fatal("no dependencies found")
	}
	for path, indirect := range marked {
		if direct[path] == indirect {
			t.Errorf("%s: imported by a package of ours %t, marked // indirect in go.mod %t: run go mod tidy", path, direct[path], indirect)
		}
	}
}
