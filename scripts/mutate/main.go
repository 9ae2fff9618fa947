// Command mutate finds out what a package's tests would miss: it changes one place of
// its code at a time (a sign, a bound, a condition, a missing call), at random by a
// seed, and runs the package's tests on each change. The tree itself is not touched.
//
//	mutate [-seed N] [-count N] [-timeout DURATION] [-skip REGEXP] PACKAGE...
//
// A change that does not compile is drawn again. Each is listed as caught or missed.
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/printer"
	"go/token"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

var (
	seed    = flag.Uint64("seed", 1, "of the places that are drawn")
	count   = flag.Int("count", 10, "changes of each package")
	timeout = flag.Duration("timeout", 5*time.Minute, "for the tests of a package; what takes longer is caught")
	skip    = flag.String("skip", "", "`REGEXP` of tests that are left out, as of go test")
)

func main() {
	flag.Parse()
	caught, all := 0, 0
	for _, pkg := range flag.Args() {
		c, n, err := mutate(pkg)
		if err != nil {
			fmt.Fprintf(os.Stderr, "mutate: %v\n", err)
			os.Exit(1)
		}
		caught, all = caught+c, all+n
	}
	fmt.Printf("%d of %d caught\n", caught, all)
}

// mutate changes a package in count places, one after the other.
func mutate(pkg string) (caught, tried int, err error) {
	dir, files, err := sources(pkg)
	if err != nil {
		return 0, 0, err
	}
	tmp, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return 0, 0, err
	}
	defer os.RemoveAll(tmp)
	if out, err := test(pkg).CombinedOutput(); err != nil {
		return 0, 0, fmt.Errorf("the tests of %s fail as it is; mend these first: %w\n%s", pkg, err, out)
	}
	r := rand.New(rand.NewPCG(*seed, 0))
	total := 0
	for _, f := range files {
		n, err := change(filepath.Join(dir, f), -1, nil)
		if err != nil {
			return 0, 0, err
		}
		total += n.places
	}
	if total == 0 {
		return 0, 0, nil
	}
	for draws := 0; tried < *count && draws < 20**count; draws++ {
		at := r.IntN(total)
		for _, f := range files {
			path := filepath.Join(dir, f)
			var out bytes.Buffer
			n, err := change(path, at, &out)
			if err != nil {
				return caught, tried, err
			}
			if at >= n.places {
				at -= n.places
				continue
			}
			overlay, err := overlaid(tmp, path, out.Bytes())
			if err != nil {
				return caught, tried, err
			}
			if exec.Command("go", "build", "-overlay", overlay, pkg).Run() != nil {
				break // it does not compile: drawn again
			}
			tried++
			verdict := "MISSED"
			if test("-failfast", "-overlay", overlay, pkg).Run() != nil {
				verdict = "caught"
				caught++
			}
			fmt.Printf("%s %s:%d %s\n", verdict, filepath.Join(pkg, f), n.line, n.what)
			break
		}
	}
	return caught, tried, nil
}

// test is a run of tests.
func test(args ...string) *exec.Cmd {
	return exec.Command("go", append([]string{"test", "-count=1", "-timeout", timeout.String(), "-skip", *skip}, args...)...)
}

func sources(pkg string) (dir string, files []string, err error) {
	out, err := exec.Command("go", "list", "-f", "{{.Dir}}\n{{range .GoFiles}}{{.}}\n{{end}}{{range .CgoFiles}}{{.}}\n{{end}}", pkg).Output()
	if err != nil {
		return "", nil, fmt.Errorf("list the files of %s: %w", pkg, err)
	}
	lines := strings.Fields(string(out))
	return lines[0], lines[1:], nil
}

// overlaid writes the changed file and what has go take it for the original's.
func overlaid(tmp, path string, text []byte) (string, error) {
	changed := filepath.Join(tmp, "changed.go")
	if err := os.WriteFile(changed, text, 0o600); err != nil {
		return "", err
	}
	j, err := json.Marshal(map[string]map[string]string{"Replace": {path: changed}})
	if err != nil {
		return "", err
	}
	overlay := filepath.Join(tmp, "overlay.json")
	return overlay, os.WriteFile(overlay, j, 0o600)
}

// swaps is what each operator becomes.
var swaps = map[token.Token]token.Token{
	token.ADD: token.SUB, token.SUB: token.ADD, token.MUL: token.QUO, token.QUO: token.MUL,
	token.LSS: token.GEQ, token.LEQ: token.LSS, token.GTR: token.LEQ, token.GEQ: token.GTR,
	token.EQL: token.NEQ, token.NEQ: token.EQL, token.LAND: token.LOR, token.LOR: token.LAND,
}

type changed struct {
	places, line int
	what         string
}

// change makes the change number at of a file, if it has so many, and prints the file
// to out; else it counts.
func change(path string, at int, out *bytes.Buffer) (c changed, err error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, nil, parser.ParseComments)
	if err != nil {
		return c, err
	}
	here := func(n ast.Node, what string) bool {
		c.places++
		if c.places-1 != at {
			return false
		}
		c.line, c.what = set.Position(n.Pos()).Line, what
		return true
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return n.Tok != token.IMPORT
		case *ast.BinaryExpr:
			if to, ok := swaps[n.Op]; ok && here(n, fmt.Sprintf("%s becomes %s", n.Op, to)) {
				n.Op = to
			}
		case *ast.UnaryExpr:
			if n.Op == token.SUB && here(n, "- is left out") {
				n.Op = token.ADD
			}
		case *ast.BlockStmt:
			for i, s := range n.List {
				if e, ok := s.(*ast.ExprStmt); ok {
					if _, call := e.X.(*ast.CallExpr); call && here(s, "the call is left out") {
						n.List[i] = &ast.EmptyStmt{Semicolon: s.Pos()}
					}
				}
			}
		}
		return true
	})
	if out != nil && at < c.places {
		err = printer.Fprint(out, set, file)
	}
	return c, err
}
