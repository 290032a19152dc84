package internal_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// waits are calls with which a test waits for a fixed time or gives up after
// one: on a busy machine it fails or proves nothing. trial/patience waits
// instead, or testing/synctest.
var waits = []string{"time.Sleep", "time.After", "time.Tick", "time.NewTimer", "time.NewTicker", "context.WithTimeout", "context.WithDeadline",
	"require.Eventually", "assert.Eventually", "require.EventuallyWithT", "assert.EventuallyWithT", "require.Never", "assert.Never",
	"require.WithinDuration of time.Now", "assert.WithinDuration of time.Now"}

// mayWait are the test files that wait on purpose, and why none of them can fail
// for it.
var mayWait = map[string]string{
	"cmd/winterstand/crash_test.go":            "kills at random moments; what is checked holds at every moment",
	"cmd/winterstand/slow_test.go":             "a line that takes a while; nothing depends on how long",
	"internal/trial/patience/patience_test.go": "in a bubble of testing/synctest",
}

func TestNoTestWaitsForAFixedTime(t *testing.T) {
	for path, file := range testFiles(t) {
		if mayWait[path] != "" {
			continue
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if name := waiting(n); name != "" {
				t.Errorf("%s calls %s: use internal/trial/patience or testing/synctest", path, name)
			}
			return true
		})
	}
}

// No test compares how long something took with a bound: it may tell it.
func TestNoTestJudgesWallTime(t *testing.T) {
	for path, file := range testFiles(t) {
		if mayWait[path] != "" {
			continue
		}
		clocks := took(file)
		ast.Inspect(file, func(n ast.Node) bool {
			c, ok := n.(*ast.CallExpr)
			if ok && slices.ContainsFunc([]string{"assert.", "require."}, func(p string) bool { return strings.HasPrefix(name(c.Fun), p) }) &&
				slices.ContainsFunc(c.Args, func(a ast.Expr) bool { return measured(a, clocks) }) {
				t.Errorf("%s: %s judges how long something took", path, name(c.Fun))
			}
			return true
		})
	}
}

// The two tests above say that nothing was found. This one shows that they would
// find it.
func TestWaitsAndWallTimeAreSeen(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "x_test.go", `package x
func f() {
	began := time.Now()
	time.Sleep(1)
	lasted := time.Since(began)
	assert.Less(t, lasted, 3)
	assert.Less(t, time.Since(began).Seconds(), 3.0)
	t.Log(time.Since(began))
}`, 0)
	require.NoError(t, err)
	var seen, judged int
	ast.Inspect(file, func(n ast.Node) bool {
		if waiting(n) != "" {
			seen++
		}
		if c, ok := n.(*ast.CallExpr); ok && strings.HasPrefix(name(c.Fun), "assert.") && slices.ContainsFunc(c.Args, func(a ast.Expr) bool { return measured(a, took(file)) }) {
			judged++
		}
		return true
	})
	assert.Equal(t, []int{1, 2}, []int{seen, judged})
}

// waiting is the name of a call that waits; empty: it does not.
func waiting(n ast.Node) string {
	c, ok := n.(*ast.CallExpr)
	if !ok {
		return ""
	}
	called := name(c.Fun)
	if strings.HasSuffix(called, ".WithinDuration") && slices.ContainsFunc(c.Args, func(a ast.Expr) bool { return name(a) == "time.Now" }) {
		called += " of time.Now"
	}
	if slices.Contains(waits, called) {
		return called
	}
	return ""
}

// took are the names that hold what time.Since gave.
func took(file *ast.File) map[string]bool {
	out := map[string]bool{}
	ast.Inspect(file, func(n ast.Node) bool {
		if a, ok := n.(*ast.AssignStmt); ok && len(a.Lhs) == len(a.Rhs) {
			for i, v := range a.Rhs {
				if id, ok := a.Lhs[i].(*ast.Ident); ok && measured(v, nil) {
					out[id.Name] = true
				}
			}
		}
		return true
	})
	return out
}

// measured: an expression holds a measured time.
func measured(e ast.Expr, held map[string]bool) bool {
	found := false
	ast.Inspect(e, func(n ast.Node) bool {
		if _, ok := n.(*ast.FuncLit); ok {
			return false
		}
		if c, ok := n.(*ast.CallExpr); ok && name(c.Fun) == "time.Since" {
			found = true
		}
		if id, ok := n.(*ast.Ident); ok && held[id.Name] {
			found = true
		}
		return true
	})
	return found
}

// name is package.Function of a call or of what is called; else empty.
func name(e ast.Expr) string {
	if c, ok := e.(*ast.CallExpr); ok {
		return name(c.Fun)
	}
	if s, ok := e.(*ast.SelectorExpr); ok {
		if id, ok := s.X.(*ast.Ident); ok {
			return id.Name + "." + s.Sel.Name
		}
	}
	return ""
}

// testFiles are all test files of the module, by their path from its root.
func testFiles(t *testing.T) map[string]*ast.File {
	t.Helper()
	root := os.DirFS("..")
	out := map[string]*ast.File{}
	for _, top := range []string{"cmd", "config", "internal", "migrations"} {
		require.NoError(t, fs.WalkDir(root, top, func(path string, _ fs.DirEntry, err error) error {
			if err != nil || !strings.HasSuffix(path, "_test.go") {
				return err
			}
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join("..", path), nil, 0)
			out[path] = file
			return err
		}))
	}
	require.Greater(t, len(out), 100)
	return out
}
