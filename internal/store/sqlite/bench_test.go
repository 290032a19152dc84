package sqlite_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
)

func BenchmarkCell(b *testing.B) {
	s, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(b, err)
	defer s.Close()
	storetest.Bench(b, s.Store)
}
