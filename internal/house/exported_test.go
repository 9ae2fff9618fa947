package house

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// An exported function or method has a user outside its package, if only a test or an
// example: else it is lower case. Types and the values of a list (a reason, an error) are
// not looked at: they are used without being named. A name is looked for by itself, so
// that some that nothing uses pass.
func TestExportedNamesHaveUsersOutside(t *testing.T) {
	type at struct{ user, folder, name string }
	var declared []at
	users := map[string]map[string]bool{} // by name, the packages
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		folder := filepath.Dir(path)
		user := folder + f.Name.Name
		ast.Inspect(f, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok {
				if users[s.Sel.Name] == nil {
					users[s.Sel.Name] = map[string]bool{}
				}
				users[s.Sel.Name][user] = true
			}
			return true
		})
		if f.Name.Name == "main" || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		for _, name := range exported(f) {
			declared = append(declared, at{user, folder, name})
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range declared {
		outside := len(users[d.name])
		if users[d.name][d.user] {
			outside--
		}
		if outside == 0 && !slices.Contains(byOthers, d.name) {
			t.Errorf("%s.%s is exported, and nothing outside its package names it", strings.TrimPrefix(d.folder, root+"/"), d.name)
		}
	}
}

// exported returns the functions and methods that a file exports.
func exported(f *ast.File) (names []string) {
	for _, d := range f.Decls {
		if f, ok := d.(*ast.FuncDecl); ok && f.Name.IsExported() {
			names = append(names, f.Name.Name)
		}
	}
	return names
}

// byOthers are used without a selector: by an interface of the standard library,
// or by the page's template.
var byOthers = []string{"ReadByte", "Lean", "Summary"}
