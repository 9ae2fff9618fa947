package prompts

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"
)

// Every code that the coach can send has an entry. The list is read from the
// coach's source, so that a new one cannot be forgotten.
func TestCoachCodesHaveWords(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "../internal/coach/codes.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok || !strings.HasPrefix(spec.Names[0].Name, "Code") {
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
