package book

import (
	"context"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/unit"
	"winterstand/internal/weather"
)

// kept is a database that only remembers the rows of the last bulk write.
type kept struct {
	Tx
	rows [][]any
}

func (k *kept) Bulk(_ context.Context, _ Insert, rows [][]any) error {
	k.rows = rows
	return nil
}

func TestBulkRowsAreSortedAndUnique(t *testing.T) {
	k := new(kept)
	w := NewWriter(k)
	hour := func(h int, air unit.Celsius) weather.Hour {
		return weather.Hour{At: time.Unix(int64(h)*3600, 0), Air: unit.Some(air)}
	}
	require.NoError(t, w.PutHours(t.Context(), 3, weather.Import, []weather.Hour{hour(2, 1), hour(1, 2), hour(2, 3)}))
	require.Len(t, k.rows, 2)
	require.Equal(t, []any{int64(3), int64(3), int64(3600), 2.0}, k.rows[0][:4])
	require.Equal(t, []any{int64(3), int64(3), int64(7200), 3.0}, k.rows[1][:4], "the last of an hour counts")

	require.NoError(t, w.AddJudgements(t.Context(), []store.Judgement{{BedID: 10, LeadDays: 1}, {BedID: 9, LeadDays: 12},
		{BedID: 9, LeadDays: 2, Likelihood: 0.5}, {BedID: 9, LeadDays: 2}}))
	require.Len(t, k.rows, 3)
	require.Equal(t, []any{int64(9), int64(2), 0.5}, []any{k.rows[0][1], k.rows[0][4], k.rows[0][6]}, "the first of a night counts")
	require.Equal(t, []any{int64(9), int64(12)}, []any{k.rows[1][1], k.rows[1][4]})
	require.EqualValues(t, 10, k.rows[2][1])

	require.NoError(t, w.SaveVerdicts(t.Context(), []store.Verdict{verdict(2, farm.Holds), verdict(1, farm.Holds), verdict(1, farm.TooLate)}))
	require.Len(t, k.rows, 2)
	require.Equal(t, "too_late", k.rows[0][3], "the last of a bed counts")
}

func verdict(bedID int64, s farm.State) store.Verdict {
	return store.Verdict{BedID: bedID, Kept: farm.Keep(farm.Verdict{State: s})}
}

func TestCheckJobs(t *testing.T) {
	require.NoError(t, checkJobs(nil))
	require.NoError(t, checkJobs([]store.Job{{MessageID: 1}, {CellID: 1}, {FieldID: 1, At: time.Unix(1, 0)}}))
	for _, j := range []store.Job{{}, {At: time.Unix(1, 0)}, {MessageID: 1, CellID: 1}, {CellID: 1, FieldID: 2}} {
		require.ErrorContains(t, checkJobs([]store.Job{{CellID: 1}, j}), "must name exactly one")
	}
}

// A placeholder without a number is counted by the driver, and the driver of
// SQLite also counts $2 as the first where it comes first: a query that says
// $2, $1 would silently swap its values.
func TestPlaceholdersAreNumbered(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	seen := 0
	for _, name := range append(files, "../row/table.go") {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		for _, text := range literals(t, name) {
			for _, mark := range placeholder.FindAllString(text, -1) {
				seen++
				require.Regexp(t, `^\?(\d|%d)`, mark, "%s: %s", name, text)
			}
		}
	}
	require.Greater(t, seen, 80)
	require.Equal(t, []string{"$1", "?)", "?", ":d"}, placeholder.FindAllString("a = $1 AND b IN (?) AND c = ?\nAND d = :d", -1))
}

// placeholder is what one of the drivers takes for one, with what follows.
var placeholder = regexp.MustCompile(`\$\d|\?%?.?|:[a-z]+\b|@[a-z]+\b`)

var holdsSQL = regexp.MustCompile(`\b(SELECT|INSERT|UPDATE|DELETE|WHERE|SET|VALUES|LIMIT|AND)\b|[?$]`)

// literals are the texts in a Go file that hold SQL.
func literals(t *testing.T, name string) (all []string) {
	f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
	require.NoError(t, err)
	ast.Inspect(f, func(n ast.Node) bool {
		if l, ok := n.(*ast.BasicLit); ok && l.Kind == token.STRING && holdsSQL.MatchString(l.Value) {
			all = append(all, l.Value)
		}
		return true
	})
	return all
}
