package postgres_test

import (
	"context"
	"os"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/store/postgres"
	"winterstand/internal/store/storetest"
)

func TestMain(m *testing.M) { os.Exit(storetest.Main(m)) }

func TestConformance(t *testing.T) {
	url := storetest.Database(t)
	migrated, err := postgres.Open(t.Context(), url, postgres.Options{Migrate: true})
	require.NoError(t, err)
	require.NoError(t, migrated.Close())
	storetest.Run(t, func(t *testing.T) storetest.Opener {
		empty(t, url)
		return func(t *testing.T) store.Store {
			s, err := postgres.Open(t.Context(), url, postgres.Options{})
			require.NoError(t, err)
			s.Attach(keepAsMemo)
			return s.Store
		}
	})
}

// empty takes all rows out of the book, in any order since foreign keys are not
// looked at meanwhile: a hundred times faster than a new database.
func empty(t *testing.T, url string) {
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	var statements string
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT string_agg('DELETE FROM ' || quote_ident(tablename), '; ') FROM pg_tables
		WHERE schemaname = current_schema AND tablename <> 'goose_db_version' AND tablename NOT LIKE 'river%'`).Scan(&statements))
	_, err = conn.PgConn().Exec(t.Context(), `SET session_replication_role = replica; `+statements).ReadAll()
	require.NoError(t, err)
}

// keepAsMemo is the queue the suite asks for.
func keepAsMemo(ctx context.Context, tx pgx.Tx, jobs []store.Job) error {
	for _, j := range jobs {
		_, err := tx.Exec(ctx, `INSERT INTO memo (kind, owner, body, updated_at) VALUES ($1, $2, $3, 0)`,
			storetest.JobKind, storetest.JobOwner(j), storetest.JobBody(j))
		if err != nil {
			return err
		}
	}
	return nil
}
