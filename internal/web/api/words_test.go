package api

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/phrase"
)

func source(t *testing.T) (files []*ast.File) {
	t.Helper()
	names, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, name := range names {
		if !strings.HasSuffix(name, "_test.go") {
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			require.NoError(t, err)
			files = append(files, f)
		}
	}
	return files
}

// documented tells whether what stands in a node is for the OpenAPI document, the
// metrics, or the log: tags, summaries, descriptions, the words of errors that
// wrap others.
func documented(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.Field:
		return n.Tag != nil
	case *ast.KeyValueExpr:
		key, ok := n.Key.(*ast.Ident)
		return ok && key.Name == "Description"
	case *ast.AssignStmt:
		to, ok := n.Lhs[0].(*ast.SelectorExpr)
		return ok && to.Sel.Name == "Description"
	case *ast.ValueSpec:
		return n.Names[0].Name == "importHelp" || n.Names[0].Name == "about"
	case *ast.CallExpr:
		return logs[called(n)]
	}
	return false
}

var logs = map[string]bool{"op": true, "gauge": true, "Errorf": true, "ErrorContext": true, "WarnContext": true, "New": true, "Set": true, "HasPrefix": true}

func called(c *ast.CallExpr) string {
	switch fn := c.Fun.(type) {
	case *ast.Ident:
		return fn.Name
	case *ast.SelectorExpr:
		return fn.Sel.Name
	}
	return ""
}

var sentence = regexp.MustCompile(`\pL{2,} \pL+ \pL+`)

// What programs are told stands in the phrase files, each sentence once.
func TestNoSentenceStandsInTheCode(t *testing.T) {
	said, asked := map[string]bool{}, 0
	look := func(n ast.Node) bool {
		if documented(n) {
			return false
		}
		if c, ok := n.(*ast.CallExpr); ok && called(c) == "because" {
			key, err := strconv.Unquote(c.Args[0].(*ast.BasicLit).Value)
			require.NoError(t, err)
			assert.True(t, phrase.English().Book.Has("problem."+key), "problem.%s is in no phrase file", key)
			said[key] = true
		}
		if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			asked++
			assert.NotRegexp(t, sentence, lit.Value)
		}
		return true
	}
	for _, f := range source(t) {
		ast.Inspect(f, look)
	}
	assert.Greater(t, asked, 100, "the code was looked at")
	for key := range phrase.English().Book.Section("problem") {
		assert.True(t, said[key], "problem.%s is said nowhere", key)
	}
}

func TestHumasWordsAreOurs(t *testing.T) {
	speakPlainly()
	for words, l := range humasWords() {
		assert.NotContains(t, *words, "[", l.Key)
		assert.NotContains(t, *words, "{", l.Key)
	}
}
