package book_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
)

// Every query keeps the promises of the store, on the embedded engine. The engines'
// own tests run the suite in other ways: rows in reverse, on a server.
func TestConformance(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Opener {
		path := filepath.Join(t.TempDir(), "book.db")
		return func(t *testing.T) store.Store {
			s, err := sqlite.Open(t.Context(), path, sqlite.Options{Migrate: true})
			require.NoError(t, err)
			s.Attach(keepAsMemo)
			return s.Store
		}
	})
}

// keepAsMemo is the queue the suite asks for.
func keepAsMemo(ctx context.Context, tx *sql.Tx, jobs []store.Job) error {
	for _, j := range jobs {
		_, err := tx.ExecContext(ctx, `INSERT INTO memo (kind, owner, body, updated_at) VALUES (?1, ?2, ?3, 0)`,
			storetest.JobKind, storetest.JobOwner(j), storetest.JobBody(j))
		if err != nil {
			return err
		}
	}
	return nil
}
