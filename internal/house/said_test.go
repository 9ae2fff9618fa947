package house

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halocue/prompts"
)

// byName are commands that internal/run answers by their own names.
var byName = []string{"louder", "quieter", "faster", "slower"}

// Words that nothing says would be translated into nine languages for nobody.
func TestEveryEntryIsSaid(t *testing.T) {
	s := said(t)
	for _, code := range byName {
		s.cued[code] = true
	}
	for _, code := range prompts.Codes() {
		if !s.says(code) {
			t.Errorf("nothing says %q: delete it from the prompts catalogue and from every file in prompts/text, or say it", code)
		}
	}
}

// A code that is only compared, only a key, only declared, or only a word of another
// meaning counts as unsaid: else the test above would pass whatever is deleted.
func TestSaidKnowsACodeFromAWord(t *testing.T) {
	s := newSayings()
	s.read(t, "a.go", `package a
const (
	CodeUsed   = "used"
	CodeUnused = "unused"
	Looked Why = "typed"
)
var keys = map[string]string{"key": "value"}
type flags struct { f bool `+"`flag:\"tag\"`"+` }
func f(w string) []Cue {
	other := "unused"
	if w == "compared" { g(stage{"field"}) }
	switch w { case "cased": }
	s.Why = "because"
	n.add("argued", Cue{Code: "cued"}, Cue{Code: "pre-" + w}, Cue{Code: CodeUsed}, item{id: "named"})
	return []string{"listed"}
}`)
	for _, code := range strings.Fields("used value argued cued pre-power listed") {
		if !s.says(code) {
			t.Errorf("%q is said, and was not noticed", code)
		}
	}
	for _, code := range strings.Fields("unused typed key tag compared field cased because named") {
		if s.says(code) {
			t.Errorf("%q is not said, and was taken for said", code)
		}
	}
}

// sayings is what the source says: the strings in places where a code may stand.
type sayings struct {
	consts   map[string][]string // the code: the constants named Code... that are declared for it
	used     map[string]bool     // names that are used outside of their declaration
	cued     map[string]bool     // strings given to a field Code
	prefixes []string            // the same, where only their beginning is written
	loose    map[string]bool     // strings that are passed on, returned or listed
}

func newSayings() *sayings {
	return &sayings{map[string][]string{}, map[string]bool{}, map[string]bool{}, nil, map[string]bool{}}
}

// says reports whether a code is said: by a cue that names it, by a constant that is
// used, or, where there is no constant, by a string that is passed on.
func (s *sayings) says(code string) bool {
	if s.cued[code] || slices.ContainsFunc(s.prefixes, func(p string) bool { return strings.HasPrefix(code, p) }) {
		return true
	}
	if names := s.consts[code]; names != nil {
		return slices.ContainsFunc(names, func(name string) bool { return s.used[name] })
	}
	return s.loose[code]
}

// said reads the program: not its tests, not what is simulated but practice, and of prompts only the
// narrator, which answers by itself.
func said(t *testing.T) *sayings {
	t.Helper()
	s := newSayings()
	for path, b := range text(t) {
		if filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") || simulated(path) && !strings.HasPrefix(path, "internal/simulate/practice/") ||
			strings.HasPrefix(path, "prompts/") && !strings.HasPrefix(path, "prompts/narrator") {
			continue
		}
		s.read(t, path, string(b))
	}
	return s
}

func (s *sayings) read(t *testing.T, path, source string) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), path, source, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			if n.Tok == token.CONST {
				s.declare(n)
				return false
			}
		case *ast.Ident:
			s.used[n.Name] = true
		case *ast.KeyValueExpr:
			s.pair(n)
		case *ast.CompositeLit:
			if _, list := n.Type.(*ast.ArrayType); list {
				s.pass(n.Elts...)
			}
		case *ast.CallExpr:
			s.pass(n.Args...)
		case *ast.ReturnStmt:
			s.pass(n.Results...)
		case *ast.AssignStmt:
			for i, to := range n.Lhs {
				if name := last(to); len(n.Lhs) == len(n.Rhs) && strings.EqualFold(name, "code") || name == "answer" {
					s.pass(n.Rhs[min(i, len(n.Rhs)-1)])
				}
			}
		}
		return true
	})
}

// declare takes in constants. One of another type than string is no code.
func (s *sayings) declare(d *ast.GenDecl) {
	for _, spec := range d.Specs {
		v := spec.(*ast.ValueSpec)
		for i, name := range v.Names {
			if i >= len(v.Values) || v.Type != nil {
				continue
			}
			if code, ok := str(v.Values[i]); ok && (strings.HasPrefix(name.Name, "Code") || strings.HasPrefix(name.Name, "Note")) {
				s.consts[code] = append(s.consts[code], name.Name)
			}
		}
	}
}

// pair takes in what a field Code is given, and the values of maps.
func (s *sayings) pair(kv *ast.KeyValueExpr) {
	if last(kv.Key) == "Code" {
		if sum, ok := kv.Value.(*ast.BinaryExpr); ok && sum.Op == token.ADD {
			if prefix, ok := str(sum.X); ok {
				s.prefixes = append(s.prefixes, prefix)
			}
		}
		if code, ok := str(kv.Value); ok {
			s.cued[code] = true
		}
	}
	if _, field := kv.Key.(*ast.Ident); !field {
		s.pass(kv.Value)
	}
}

func (s *sayings) pass(values ...ast.Expr) {
	for _, v := range values {
		if code, ok := str(v); ok {
			s.loose[code] = true
		}
	}
}

// str is a string literal's value.
func str(e ast.Expr) (string, bool) {
	lit, ok := e.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	value, err := strconv.Unquote(lit.Value)
	return value, err == nil
}

// last is the name at the end of an expression: Code of c.Code.
func last(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}
