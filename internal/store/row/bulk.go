package row

import (
	"cmp"
	"maps"
	"slices"
)

// sorted gives the rows of a map by key. Bulk writes always lock rows in the
// same order, so that two of them never wait for each other in a circle, and
// never name a row twice, which PostgreSQL refuses in one statement.
func sorted[K cmp.Ordered](rows map[K][]any) [][]any {
	out := make([][]any, 0, len(rows))
	for _, k := range slices.Sorted(maps.Keys(rows)) {
		out = append(out, rows[k])
	}
	return out
}

// orNone is a body that is never NULL.
func orNone(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}
