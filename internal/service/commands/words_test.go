package commands

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"winterstand/internal/message/phrase"
)

// sections of the phrases that each function takes, and where its key stands.
var keyed = map[string]struct {
	section string
	arg     int
}{"bad": {"wrong.", 1}, "wrong": {"wrong.", 1}, "reason": {"wrong.", 0}, "refuse": {"refused.", 0}}

func TestEveryRefusalHasItsPhrase(t *testing.T) {
	b, seen := phrase.MustLoad(), 0
	for call, where := range calls(t) {
		k, ok := keyed[name(call)]
		if !ok || len(call.Args) <= k.arg {
			continue
		}
		seen++
		if lit, ok := call.Args[k.arg].(*ast.BasicLit); ok {
			key, _ := strconv.Unquote(lit.Value)
			assert.True(t, b.Has(k.section+key), "%s: %s", where, k.section+key)
		}
	}
	assert.Greater(t, seen, 60)
	for key, r := range Limits {
		assert.True(t, b.Has("amount."+r.Unit), key)
		assert.True(t, r.OpenMin || !r.OpenMax, "%s: no phrase for a range open above only", key)
		assert.NotContains(t, r.line().String(), "{", key)
	}
	for _, key := range []string{"no_such_field", "no_such_bed", "no_such_room", "none_called_field", "none_called_room"} {
		assert.True(t, b.Has("wrong."+key), key)
	}
}

// A reason is a value until somebody reads it: each in their language.
func TestAReasonIsSaidInTheReadersLanguage(t *testing.T) {
	why, b := Limits["field.latitude"].Refusal(91), phrase.MustLoad()
	assert.Equal(t, "must be from -90 to 90 degrees north", why.String())
	assert.Equal(t, "tiene que estar entre -90 y 90 grados norte", b.Tell("es", why))
	assert.Equal(t, "tiene que ser uno de estos: us, metric", b.Tell("es", oneOf("farm.units")("feet")))
}

func name(call *ast.CallExpr) string {
	switch f := call.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		return f.Sel.Name
	}
	return ""
}

func calls(t *testing.T) map[*ast.CallExpr]token.Position {
	paths, err := filepath.Glob("*.go")
	require.NoError(t, err)
	found, files := map[*ast.CallExpr]token.Position{}, token.NewFileSet()
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(files, path, nil, 0)
		require.NoError(t, err)
		ast.Inspect(f, func(n ast.Node) bool {
			if call, ok := n.(*ast.CallExpr); ok {
				found[call] = files.Position(call.Pos())
			}
			return true
		})
	}
	return found
}
