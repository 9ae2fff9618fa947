package house

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// An exported function, method or number has a user outside its package, if only a test or
// an example: else it is lower case. Types and the values of a list (a reason, an error) are
// not looked at: they are used without being named. A method is looked for by its name
// alone, so that some that nothing uses pass.
func TestExportedNamesHaveUsersOutside(t *testing.T) {
	declared := map[string]string{} // by what a user writes, the package
	users := map[string]map[string]bool{}
	for path, code := range text(t) {
		if !strings.HasSuffix(path, ".go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, code, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		folder := filepath.Dir(path)
		user := folder + " " + f.Name.Name
		imported := importsOf(f)
		ast.Inspect(f, func(n ast.Node) bool {
			s, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			names := []string{"." + s.Sel.Name}
			if x, ok := s.X.(*ast.Ident); ok && imported[x.Name] != "" {
				names = append(names, imported[x.Name]+names[0])
			}
			for _, name := range names {
				if users[name] == nil {
					users[name] = map[string]bool{}
				}
				users[name][user] = true
			}
			return true
		})
		if f.Name.Name == "main" || strings.HasSuffix(path, "_test.go") {
			continue
		}
		for _, name := range exported(f, folder) {
			declared[name] = user
		}
	}
	for name, own := range declared {
		outside := len(users[name])
		if users[name][own] {
			outside--
		}
		if outside == 0 && !slices.Contains(byOthers, name) {
			folder, _, _ := strings.Cut(own, " ")
			t.Errorf("%s in %s is exported, and nothing outside its package names it", name, folder)
		}
	}
}

// importsOf returns the folders of our own packages that a file imports, by the name that
// it calls them.
func importsOf(f *ast.File) map[string]string {
	all := map[string]string{}
	for _, i := range f.Imports {
		folder, ours := strings.CutPrefix(strings.Trim(i.Path.Value, `"`), "halocue/")
		if !ours {
			continue
		}
		name := folder[strings.LastIndex(folder, "/")+1:]
		if i.Name != nil {
			name = i.Name.Name
		}
		all[name] = folder
	}
	return all
}

// exported returns what a file in a folder exports: ".Name" of a method, "folder.Name" of a
// function and of a number that is a constant.
func exported(f *ast.File, folder string) (names []string) {
	for _, d := range f.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			switch {
			case !d.Name.IsExported():
			case d.Recv != nil:
				names = append(names, "."+d.Name.Name)
			default:
				names = append(names, folder+"."+d.Name.Name)
			}
		case *ast.GenDecl:
			for _, s := range d.Specs {
				v, ok := s.(*ast.ValueSpec)
				if !ok || d.Tok != token.CONST || v.Type != nil || len(v.Values) != len(v.Names) {
					continue // a list's
				}
				for i, name := range v.Names {
					if text, ok := v.Values[i].(*ast.BasicLit); name.IsExported() && !(ok && text.Kind == token.STRING) {
						names = append(names, folder+"."+name.Name)
					}
				}
			}
		}
	}
	return names
}

// byOthers are used without a selector: by an interface of the standard library,
// or by the page's template.
var byOthers = []string{".ReadByte", ".Lean", ".Summary"}
