package internal_test

import (
	"encoding/json"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const mostMethods = 20 // of one interface; more are more than one subject

// Every interface of the module, also one without a name and one made of others.
func TestInterfacesAreSmall(t *testing.T) {
	seen := 0
	for _, i := range interfaces(t) {
		seen++
		require.LessOrEqual(t, i.methods, mostMethods, "%s has %d methods: divide it by subject", i.where, i.methods)
	}
	require.Greater(t, seen, 40)
}

type iface struct {
	where   string
	methods int // with those of the interfaces it embeds
}

func interfaces(t *testing.T) (all []iface) {
	compiled := compiledPackages(t)
	fset := token.NewFileSet()
	from := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(compiled[path].Export) })
	for path, p := range compiled {
		if !strings.HasPrefix(path, "winterstand/") {
			continue
		}
		var files []*ast.File
		for _, name := range p.GoFiles {
			f, err := parser.ParseFile(fset, filepath.Join(p.Dir, name), nil, 0)
			require.NoError(t, err)
			files = append(files, f)
		}
		info := types.Info{Types: map[ast.Expr]types.TypeAndValue{}}
		_, err := (&types.Config{Importer: from}).Check(path, fset, files, &info)
		require.NoError(t, err)
		for e, is := range info.Types {
			if i, ok := is.Type.(*types.Interface); ok && is.IsType() {
				all = append(all, iface{fset.Position(e.Pos()).String(), i.NumMethods()})
			}
		}
	}
	return all
}

type compiledPackage struct {
	ImportPath, Dir, Export string
	GoFiles                 []string
}

// compiledPackages are those of the module and all that they import.
func compiledPackages(t *testing.T) map[string]compiledPackage {
	t.Helper()
	out, err := exec.Command("go", "list", "-export", "-deps", "-json=ImportPath,Dir,Export,GoFiles", "winterstand/...").Output()
	require.NoError(t, err)
	all := map[string]compiledPackage{}
	for dec := json.NewDecoder(strings.NewReader(string(out))); dec.More(); {
		var p compiledPackage
		require.NoError(t, dec.Decode(&p))
		all[p.ImportPath] = p
	}
	return all
}
