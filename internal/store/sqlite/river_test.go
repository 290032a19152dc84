package sqlite_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"

	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
)

func TestQueueOnTheSameHandle(t *testing.T) {
	s, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	defer s.Close()
	storetest.RunQueue(t, s.Store, riversqlite.New(s.DB()), func(e func(context.Context, *sql.Tx, []store.Job) error) { s.Attach(e) })
}
