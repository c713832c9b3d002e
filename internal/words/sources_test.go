package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// made is one place in our sources that makes a refusal.
type made struct {
	at     string
	code   string
	params []string
	open   bool // parameters were not all literal: they can't be checked
}

// TestEveryRefusalMadeHasItsWords reads the sources of everything that refuses:
// each code has an entry, no entry is left over and, outside the core (which
// adds parameters of the lots to what its rules give), each place gives the
// parameters its texts name.
func TestEveryRefusalMadeHasItsWords(t *testing.T) {
	all, texts := refusalsMade(t, "../core", "../app", "../shopgen", "../../web")
	if len(all) < 100 {
		t.Fatalf("found only %d places that refuse; does this test still read the sources?", len(all))
	}
	for _, m := range all {
		if !Has(m.code) {
			t.Errorf("%s: the code %q has no entry in internal/words/en", m.at, m.code)
			continue
		}
		if m.open || strings.HasPrefix(m.at, "../core") {
			continue
		}
		for _, p := range Params(m.code) {
			if !slices.Contains(m.params, p) {
				t.Errorf("%s: %q is refused without the parameter %q, which its texts name", m.at, m.code, p)
			}
		}
	}
	for _, code := range Codes() {
		if !texts[code] {
			t.Errorf("the entry %q is used nowhere", code)
		}
	}
}

// refusalsMade lists the places that refuse, and every literal text there is:
// some codes stand in tables.
func refusalsMade(t *testing.T, dirs ...string) ([]made, map[string]bool) {
	t.Helper()
	var out []made
	texts := map[string]bool{}
	files := token.NewFileSet()
	for _, dir := range dirs {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			file, err := parser.ParseFile(files, path, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(file, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.CallExpr:
					if refuses(n) && len(n.Args) > 0 {
						out = append(out, refusalOf(files, n))
					}
				case *ast.BasicLit:
					if s, ok := literal(n); ok {
						texts[s] = true
					}
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return slices.DeleteFunc(out, func(m made) bool { return m.code == "" }), texts
}

func refuses(call *ast.CallExpr) bool {
	switch f := call.Fun.(type) {
	case *ast.Ident:
		return f.Name == "refuse" || f.Name == "Refuse"
	case *ast.SelectorExpr:
		return f.Sel.Name == "Refuse"
	}
	return false
}

func refusalOf(files *token.FileSet, call *ast.CallExpr) made {
	m := made{at: files.Position(call.Pos()).String(), open: call.Ellipsis.IsValid()}
	m.code, _ = literal(call.Args[0])
	for i := 1; i < len(call.Args); i += 2 {
		if name, ok := literal(call.Args[i]); ok {
			m.params = append(m.params, name)
		} else {
			m.open = true
		}
	}
	return m
}

func literal(e ast.Expr) (string, bool) {
	lit, ok := e.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(lit.Value)
	return s, err == nil
}
