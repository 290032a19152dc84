package sqlite_test

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/schema"
	"winterstand/internal/store/sqlite"
	"winterstand/migrations"
)

func open(t *testing.T, path string, o sqlite.Options) *sqlite.Store {
	t.Helper()
	s, err := sqlite.Open(t.Context(), path, o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func TestOpenRefusesOtherSchemas(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	_, err := sqlite.Open(t.Context(), path, sqlite.Options{})
	require.ErrorIs(t, err, schema.ErrOld, "an empty file")
	require.ErrorContains(t, err, path)
	require.ErrorContains(t, err, fmt.Sprintf("schema of the book is at 0, needed is %d: older than this program: run `winterstand migrate` first", newest(t)))

	s := open(t, path, sqlite.Options{Migrate: true})
	open(t, path, sqlite.Options{})
	require.NoError(t, s.Migrate(t.Context()), "a second time changes nothing")

	for name, c := range map[string]struct {
		meddle, mend string
		want         error
		says         string
	}{
		"newer book":  {`INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)`, `DELETE FROM goose_db_version WHERE version_id = 99`, schema.ErrNew, fmt.Sprintf("book is at 99, known is %d", newest(t))},
		"older queue": {`DELETE FROM river_migration WHERE version = 8`, `INSERT INTO river_migration (line, version) VALUES ('main', 8)`, schema.ErrOld, "queue is at 7, needed is 8"},
		"newer queue": {`INSERT INTO river_migration (line, version) VALUES ('main', 99)`, `DELETE FROM river_migration WHERE version = 99`, nil, "perhaps of a newer program"},
	} {
		_, err := s.DB().ExecContext(t.Context(), c.meddle)
		require.NoError(t, err, name)
		_, err = sqlite.Open(t.Context(), path, sqlite.Options{})
		require.ErrorContains(t, err, c.says, name)
		if c.want != nil {
			require.ErrorIs(t, err, c.want, name)
		}
		if c.want != schema.ErrOld {
			_, err = sqlite.Open(t.Context(), path, sqlite.Options{Migrate: true})
			require.ErrorContains(t, err, c.says, "%s is left alone", name)
		}
		_, err = s.DB().ExecContext(t.Context(), c.mend)
		require.NoError(t, err, name)
	}
}

func TestOpenNamesWhatIsWrong(t *testing.T) {
	_, err := sqlite.Open(t.Context(), ":memory:", sqlite.Options{Migrate: true})
	require.ErrorContains(t, err, "must name a file")
	_, err = sqlite.Open(t.Context(), "", sqlite.Options{Migrate: true})
	require.ErrorContains(t, err, "must name a file")
	_, err = sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "no", "such", "folder.db"), sqlite.Options{Migrate: true})
	require.ErrorContains(t, err, "folder.db")
	text := filepath.Join(t.TempDir(), "notes.txt")
	require.NoError(t, os.WriteFile(text, []byte("this is no database, and long enough to show that it is none"), 0o600))
	_, err = sqlite.Open(t.Context(), text, sqlite.Options{Migrate: true})
	require.ErrorContains(t, err, "not a database")
}

// Every connection must hold to the settings of the file: a foreign key that is
// not enforced would let one farm point at another.
func TestConnectionSettings(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	for pragma, want := range map[string]string{"foreign_keys": "1", "journal_mode": "wal", "busy_timeout": "5000", "synchronous": "2"} {
		var is string
		require.NoError(t, s.DB().QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&is))
		require.Equal(t, want, is, pragma)
	}
	require.Equal(t, 1, s.DB().Stats().MaxOpenConnections)
	var broken int
	require.NoError(t, s.DB().QueryRowContext(t.Context(), `SELECT count(*) FROM pragma_foreign_key_check`).Scan(&broken))
	require.Zero(t, broken)
}

// A command such as `winterstand token` writes beside the running service.
func TestTwoProcessesOnOneFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	both := []*sqlite.Store{open(t, path, sqlite.Options{Migrate: true}), open(t, path, sqlite.Options{})}
	var all sync.WaitGroup
	for i, s := range both {
		all.Go(func() {
			for j := range 25 {
				err := s.Write(t.Context(), func(w store.Writer) error {
					_, err := w.AddFarm(t.Context(), farm.New(string(rune('a'+i))+string(rune('A'+j)), time.Unix(0, 0)))
					return err
				})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	farms, err := both[0].Farms(t.Context(), store.Page{})
	require.NoError(t, err)
	require.Len(t, farms, 50)
}

func TestEnqueueNeedsAQueue(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	err := s.Write(t.Context(), func(w store.Writer) error { return w.Enqueue(t.Context(), store.Job{CellID: 1}) })
	require.ErrorContains(t, err, "no queue is attached")
	s.Attach(func(context.Context, *sql.Tx, []store.Job) error { return nil })
	require.NoError(t, s.Write(t.Context(), func(w store.Writer) error { return w.Enqueue(t.Context(), store.Job{CellID: 1}) }))
}

// The paths that are walked for every cell and every page must have an index.
func TestNoScans(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.Contains(t, plan(t, s.DB(), `SELECT * FROM bed WHERE variety = 'x'`), "SCAN bed", "what has no index shows")
	for _, query := range []string{
		`SELECT * FROM bed WHERE cleared_at IS NULL AND field_id IN (SELECT id FROM field WHERE cell_id = 1 AND removed_at IS NULL) ORDER BY id`,
		`SELECT * FROM verdict WHERE bed_id IN (SELECT id FROM bed WHERE cleared_at IS NULL AND field_id IN (SELECT id FROM field WHERE cell_id = 1 AND removed_at IS NULL))`,
		`SELECT * FROM bed WHERE farm_id = 1 AND id > 7 AND cleared_at IS NULL AND field_id IN (SELECT id FROM field WHERE removed_at IS NULL) ORDER BY id LIMIT 5`,
		`SELECT * FROM hour WHERE cell_id = 1 AND at >= 0 AND at < 9 ORDER BY at`,
		`DELETE FROM hour WHERE cell_id IN (SELECT id FROM cell) AND at < 9`,
		`SELECT * FROM forecast WHERE cell_id = 1 AND source = 'nws' ORDER BY issued_at DESC LIMIT 1`,
		`SELECT * FROM notice WHERE farm_id = 1 AND id < 9 ORDER BY id DESC LIMIT 5`,
		`SELECT * FROM notice WHERE farm_id = 1 AND id < 9 AND bed_id = 3 ORDER BY id DESC LIMIT 5`,
		`SELECT * FROM message WHERE farm_id = 1 AND id < 9 ORDER BY id DESC LIMIT 5`,
		`SELECT id FROM message WHERE state = 'queued' AND not_before <= 9 ORDER BY id LIMIT 5`,
		`SELECT count(*) FROM message WHERE state = 'queued'`,
		`SELECT * FROM reading WHERE farm_id = 1 AND field_id = 1 AND at >= 0 AND at < 9 ORDER BY at, id`,
		`SELECT * FROM recipient WHERE phone = '+1' AND phone <> ''`,
		`SELECT * FROM recipient WHERE lower(email) = lower('a') AND email <> ''`,
		`SELECT * FROM judgement WHERE night >= 'a' AND night <= 'b' AND farm_id = 1`,
		`UPDATE judgement SET lost_fraction = 0 WHERE bed_id = 1 AND night = 'a'`,
		`SELECT * FROM memo WHERE kind = 'a'`,
	} {
		for _, step := range plan(t, s.DB(), query) {
			if step == "SCAN field" || step == "SCAN cell" || step == "SCAN cell USING COVERING INDEX sqlite_autoindex_cell_1" {
				continue // few rows
			}
			require.NotRegexp(t, `^SCAN`, step, query)
		}
	}
}

func plan(t *testing.T, db *sql.DB, query string) (steps []string) {
	rows, err := db.QueryContext(t.Context(), "EXPLAIN QUERY PLAN "+query)
	require.NoError(t, err, query)
	defer rows.Close()
	for rows.Next() {
		var id, parent, unused int
		var step string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &step))
		steps = append(steps, step)
	}
	require.NoError(t, rows.Err())
	return steps
}

// newest is the number of the newest migration, counted from the folder.
func newest(t *testing.T) int {
	files, err := fs.Glob(migrations.SQLite(), "*.sql")
	require.NoError(t, err)
	return len(files)
}
