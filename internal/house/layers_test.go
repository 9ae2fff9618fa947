package house

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

const module = "halocue/"

type pkg struct {
	ImportPath, Name           string
	Standard                   bool
	CgoFiles, CFiles, CXXFiles []string
	Imports, Deps              []string
}

func (p pkg) usesC() bool { return !p.Standard && len(p.CgoFiles)+len(p.CFiles)+len(p.CXXFiles) > 0 }

// list asks the Go tool about all our packages, and with -deps about all that they need.
func list(t *testing.T, args ...string) []pkg {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list", "-json=ImportPath,Name,Standard,CgoFiles,CFiles,CXXFiles,Imports,Deps"}, args...)...)
	cmd.Dir = root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=1")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("asking the Go tool for the packages: %v", err)
	}
	var packages []pkg
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pkg
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return packages
		} else if err != nil {
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
}

// ours lists the packages of the repository that hold more than tests of their own
// folder, by their path from the root.
func ours(t *testing.T) map[string]pkg {
	t.Helper()
	all := map[string]pkg{}
	for _, p := range list(t, "./...") {
		all[strings.TrimPrefix(p.ImportPath, module)] = p
	}
	return all
}

func TestPlanHasEveryPackage(t *testing.T) {
	packages := ours(t)
	for path := range packages {
		if _, ok := plan[path]; !ok {
			t.Errorf("%s has no place in the plan: say in internal/house/plan_test.go what it may import", path)
		}
	}
	for path := range plan {
		if _, ok := packages[path]; !ok {
			t.Errorf("the plan has a place for %s, which is not there: take it out of internal/house/plan_test.go", path)
		}
	}
}

func TestPackagesImportWhatThePlanLetsThem(t *testing.T) {
	for path, p := range ours(t) {
		for _, imported := range p.Imports {
			to, own := strings.CutPrefix(imported, module)
			if !own {
				continue
			}
			if !under(to, plan[path].knows) {
				t.Errorf("%s imports %s, which the plan does not let it know", path, to)
			}
			if plan[to].onlyTests && !plan[path].onlyTests {
				t.Errorf("%s imports %s, which is for tests alone", path, to)
			}
			if simulated(to) && !simulated(path) && !strings.HasPrefix(path, "cmd/") {
				t.Errorf("%s imports the simulator %s, which only demo, practice, tests and benchmarks need", path, to)
			}
		}
	}
}

func simulated(path string) bool { return strings.HasPrefix(path, "internal/simulate/") }

// What the plan lets a package know, it uses: else the plan would grow loose.
func TestPlanLetsNobodyKnowMoreThanTheyNeed(t *testing.T) {
	for path, p := range ours(t) {
		for _, may := range plan[path].knows {
			if !slices.ContainsFunc(p.Imports, func(imported string) bool {
				to, own := strings.CutPrefix(imported, module)
				return own && under(to, []string{may})
			}) {
				t.Errorf("the plan lets %s know %s, which it does not import", path, may)
			}
		}
	}
}

// under reports whether the path is one of those named, or below one that ends in /...
func under(path string, named []string) bool {
	return slices.ContainsFunc(named, func(n string) bool {
		above, deep := strings.CutSuffix(n, "/...")
		return path == above || deep && strings.HasPrefix(path, above+"/")
	})
}

func TestOnlyWhatThePlanNamesNeedsC(t *testing.T) {
	c := map[string]bool{}
	packages := map[string]pkg{}
	for _, p := range list(t, "-deps", "./...") {
		c[p.ImportPath] = p.usesC()
		if path, own := strings.CutPrefix(p.ImportPath, module); own {
			packages[path] = p
		}
	}
	var without []string
	for path, p := range packages {
		by := ""
		for _, d := range append(p.Deps, p.ImportPath) {
			if c[d] {
				by = d
			}
		}
		switch needs := plan[path].needsC; {
		case by != "" && !needs:
			t.Errorf("%s needs C by %s, and the plan says that it must not", path, by)
		case by == "" && needs:
			t.Errorf("the plan says that %s needs C, and it does not", path)
		}
		if !plan[path].needsC {
			without = append(without, p.ImportPath)
		}
	}
	cmd := exec.Command("go", append([]string{"build"}, without...)...)
	cmd.Dir = root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("without C: %v\n%s", err, out)
	}
}
