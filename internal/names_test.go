package internal_test

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

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/crop"
	"winterstand/internal/science/microclimate"
)

// What is true of a crop or a cover is declared in its entry. Code that looks at
// its name gives a new entry nothing, in silence: a safety caution once hung on
// the prefix "tomato" and on the word "tunnel".
func TestNoCodeLooksAtTheNameOfACropOrCover(t *testing.T) {
	whole, parts := names(t)
	for path, file := range sources(t) {
		ast.Inspect(file, func(n ast.Node) bool {
			for _, word := range compared(n) {
				if slices.Contains(whole, word) {
					t.Errorf("%s compares with the crop or cover %q: declare it in the entry", path, word)
				}
			}
			for _, word := range searched(n) {
				if slices.Contains(parts, strings.Trim(word, "-_")) {
					t.Errorf("%s looks for %q in a name: declare it in the entry", path, word)
				}
			}
			return true
		})
	}
}

// names are the keys and aliases of crops, and the words they and the covers
// are made of.
func names(t *testing.T) (whole, parts []string) {
	catalogue, err := crop.Default()
	require.NoError(t, err)
	for _, c := range catalogue.All() {
		whole = append(append(whole, c.Name), c.Aliases...)
	}
	parts = slices.Clone(whole)
	for _, c := range microclimate.Covers() {
		parts = append(append(parts, string(c)), strings.Split(string(c), "_")...)
	}
	for _, name := range whole {
		parts = append(parts, strings.Split(name, "-")[0])
	}
	return whole, parts
}

func sources(t *testing.T) map[string]*ast.File {
	files := map[string]*ast.File{}
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		files[path], err = parser.ParseFile(token.NewFileSet(), path, nil, 0)
		return err
	}))
	assert.Greater(t, len(files), 100)
	return files
}

// compared are the literals of ==, != and switch cases.
func compared(n ast.Node) []string {
	switch n := n.(type) {
	case *ast.BinaryExpr:
		if n.Op == token.EQL || n.Op == token.NEQ {
			return literals(n.X, n.Y)
		}
	case *ast.CaseClause:
		return literals(n.List...)
	}
	return nil
}

// searched are the literals that package strings is asked to find.
func searched(n ast.Node) []string {
	call, ok := n.(*ast.CallExpr)
	if !ok {
		return nil
	}
	f, ok := call.Fun.(*ast.SelectorExpr)
	if !ok || !slices.Contains([]string{"HasPrefix", "HasSuffix", "Contains", "Index", "Cut", "CutPrefix", "CutSuffix", "EqualFold", "TrimPrefix"}, f.Sel.Name) {
		return nil
	}
	return literals(call.Args...)
}

func literals(xs ...ast.Expr) (out []string) {
	for _, x := range xs {
		if l, ok := x.(*ast.BasicLit); ok && l.Kind == token.STRING {
			s, _ := strconv.Unquote(l.Value)
			out = append(out, s)
		}
	}
	return out
}
