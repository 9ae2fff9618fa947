package prompts

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Every code that the coach sends has an entry. The list is read from the
// coach's source, so that a new one cannot be forgotten; a code that nothing in it
// uses needs no words.
func TestCoachCodesHaveWords(t *testing.T) {
	sent := sentByCoach(t)
	file, err := parser.ParseFile(token.NewFileSet(), "../internal/cue/codes.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok || !strings.HasPrefix(spec.Names[0].Name, "Code") || !sent[spec.Names[0].Name] {
			return true
		}
		for _, value := range spec.Values {
			code, err := strconv.Unquote(value.(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			found++
			if _, err := Lookup(code); err != nil {
				t.Errorf("%s: %v", spec.Names[0].Name, err)
			}
		}
		return true
	})
	if found < 20 {
		t.Errorf("only %d codes found: is codes.go still where they are?", found)
	}
}

// sentByCoach lists the names that the coach's source uses, tests and declarations apart.
func sentByCoach(t *testing.T) map[string]bool {
	t.Helper()
	paths, err := filepath.Glob("../internal/coach/*/*.go")
	if err != nil {
		t.Fatal(err)
	}
	sent := map[string]bool{}
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") || strings.HasSuffix(path, "/codes.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if id, ok := n.(*ast.Ident); ok {
				sent[id.Name] = true
			}
			return true
		})
	}
	return sent
}
