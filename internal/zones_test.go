package internal_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// zoneHomes are the only files that turn the name of a zone into one, and why.
// Everybody else asks a farm.Place or a farm: a second answer to "which zone is
// this field in" has people lift at three in the morning.
var zoneHomes = map[string]string{
	"internal/farm/place.go":         "the one home",
	"internal/trial/standin/grid.go": "speaks as a weather service does, of places that are no farm's",
}

func TestOnlyThePlaceLoadsZones(t *testing.T) {
	found := map[string]bool{}
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && d.Name() == "node_modules" {
			return filepath.SkipDir
		}
		if strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") && loadsZones(t, path) {
			found[filepath.ToSlash(strings.TrimPrefix(path, ".."+string(filepath.Separator)))] = true
		}
		return nil
	}))
	for path := range found {
		assert.Contains(t, zoneHomes, path, "%s loads a zone by its name: ask farm.PlaceOf, store.ZoneOf or farm.ZoneTold", path)
	}
	for path, why := range zoneHomes {
		assert.True(t, found[path], "%s (%s) loads no zone any more: take it off the list", path, why)
	}
}

func loadsZones(t *testing.T, path string) (loads bool) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
	require.NoError(t, err)
	ast.Inspect(file, func(n ast.Node) bool {
		s, ok := n.(*ast.SelectorExpr)
		loads = loads || ok && strings.HasPrefix(s.Sel.Name, "LoadLocation")
		return !loads
	})
	return loads
}
