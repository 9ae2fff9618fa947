package house

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// pure lists what reasons: it knows nothing of cameras, sound or C.
var pure = []string{
	"halocue/internal/optics", "halocue/internal/frame", "halocue/internal/coach",
	"halocue/internal/virtual", "halocue/internal/sky", "halocue/internal/drive", "halocue/vision/ring", "halocue/vision/spikes",
}

// mayImport says which of our own packages each layer may know, by prefix. What
// touches the world never knows what else does; only cmd and internal/guide
// bring them together.
var mayImport = map[string][]string{
	"halocue/internal/optics":  {},
	"halocue/internal/frame":   {},
	"halocue/internal/sky":     {},
	"halocue/internal/coach":   {"internal/optics"},
	"halocue/internal/virtual": {"internal/optics", "internal/frame"},
	// The proofs of the coach bring it together with the virtual telescope.
	"halocue/internal/coach/nights": {"internal", "prompts"},
	"halocue/internal/journal":      {},
	"halocue/internal/report":       {"internal/journal", "internal/optics"},
	"halocue/internal/indi":         {},
	"halocue/vision":                {"vision", "internal/frame", "internal/optics", "internal/virtual", "internal/indi"},
	"halocue/audio":                 {"audio"},
	"halocue/prompts":               {"prompts"},
	"halocue/prompts/voice":         {"prompts", "audio"},
	"halocue/config":                {"internal/optics"},
	"halocue/internal/measure":      {"internal/frame", "internal/optics", "vision/ring"},
	"halocue/internal/drift":        {"internal/optics"},
	"halocue/internal/wobble":       {"internal/optics", "vision/ring"},
	"halocue/internal/spot":         {"internal/frame", "internal/optics"},
	"halocue/internal/setup":        {"config"},
	"halocue/internal/board":        {},
	"halocue/internal/drive":        {},
	"halocue/internal/drive/motors": {"internal/drive", "internal/indi"},

	// By day: the same coach's words, another view.
	"halocue/internal/rough":            {"internal/coach", "internal/optics"},
	"halocue/internal/virtual/peephole": {"internal/virtual", "internal/optics", "internal/frame"},
}

type pkg struct {
	ImportPath, Name           string
	Standard                   bool
	CgoFiles, CFiles, CXXFiles []string
	Imports                    []string
	Error                      *struct{ Err string }
}

func list(t *testing.T, env string, args ...string) []pkg {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list", "-e", "-json=ImportPath,Name,Standard,CgoFiles,CFiles,CXXFiles,Imports,Error"}, args...)...)
	cmd.Dir = root
	cmd.Env = append(os.Environ(), env)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
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

// present drops the packages that are not written yet.
func present(t *testing.T, paths []string) []string {
	t.Helper()
	var there []string
	for _, p := range list(t, "CGO_ENABLED=0", paths...) {
		if p.Error == nil {
			there = append(there, p.ImportPath)
		}
	}
	if len(there) < 4 {
		t.Fatalf("only %v of %v", there, paths)
	}
	return there
}

func TestPureBuildsWithoutC(t *testing.T) {
	there := present(t, pure)
	cmd := exec.Command("go", append([]string{"build"}, there...)...)
	cmd.Dir = root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("without cgo: %v\n%s", err, out)
	}
	for _, p := range list(t, "CGO_ENABLED=1", append([]string{"-deps"}, there...)...) {
		if !p.Standard && len(p.CgoFiles)+len(p.CXXFiles)+len(p.CFiles) > 0 {
			t.Errorf("what reasons depends on %s, which needs C", p.ImportPath)
		}
	}
}

func TestLayers(t *testing.T) {
	for _, p := range list(t, "CGO_ENABLED=1", "./...") {
		allowed, known := layer(p.ImportPath)
		if !known || p.Name == "main" {
			continue
		}
		for _, imported := range p.Imports {
			own, ours := strings.CutPrefix(imported, "halocue/")
			if ours && !under(own, allowed) {
				t.Errorf("%s imports %s, which its layer may not know", p.ImportPath, imported)
			}
		}
	}
}

// layer returns what the innermost layer around the package may import.
func layer(path string) (allowed []string, known bool) {
	for path != "." {
		if allowed, known = mayImport[path]; known {
			return allowed, true
		}
		path = filepath.Dir(path)
	}
	return nil, false
}

// under tells whether the path is one of the roots or below one.
func under(path string, roots []string) bool {
	for _, r := range roots {
		if path == r || strings.HasPrefix(path, r+"/") {
			return true
		}
	}
	return false
}
