package schema

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"
	"testing/fstest"

	_ "github.com/mattn/go-sqlite3"
	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOnlyTheVersionOfThisProgramWillDo(t *testing.T) {
	assert.NoError(t, compare("book", 3, 3))
	assert.ErrorIs(t, compare("book", 2, 3), ErrOld)
	assert.ErrorIs(t, compare("book", 4, 3), ErrNew)
	assert.ErrorContains(t, compare("queue", 2, 3), "schema of the queue is at 2, needed is 3")
	assert.EqualValues(t, 7, latest([]rivermigrate.Migration{{Version: 3}, {Version: 7}, {Version: 5}}))
	assert.Zero(t, latest(nil))
}

// program is a program that knows so many steps of the book.
func program(t *testing.T, db *sql.DB, steps int) *Schema[*sql.Tx] {
	files := fstest.MapFS{}
	for _, name := range []string{"00001_first", "00002_second"}[:steps] {
		files[name+".sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\nCREATE TABLE t" + name + " (id INTEGER);\n")}
	}
	s, err := New(goose.DialectSQLite3, db, files, riversqlite.New(db))
	require.NoError(t, err)
	return s
}

// An empty database is old until it is migrated, one of an older program again,
// and one of a newer program stays as it is.
func TestASchemaIsMigratedForwardOnly(t *testing.T) {
	db, err := sql.Open("sqlite3", filepath.Join(t.TempDir(), "book.db"))
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	ctx := context.Background()
	before, now := program(t, db, 1), program(t, db, 2)
	assert.ErrorIs(t, now.Check(ctx), ErrOld)
	require.NoError(t, before.Migrate(ctx))
	assert.NoError(t, before.Check(ctx))
	assert.ErrorIs(t, now.Check(ctx), ErrOld)
	require.NoError(t, now.Migrate(ctx))
	assert.NoError(t, now.Check(ctx))
	require.NoError(t, now.Migrate(ctx), "migrating twice is harmless")
	assert.ErrorIs(t, before.Check(ctx), ErrNew)
	assert.ErrorIs(t, before.Migrate(ctx), ErrNew)
	// The queue's own tables count as much as the book's.
	_, err = db.ExecContext(ctx, `DELETE FROM river_migration WHERE version = (SELECT max(version) FROM river_migration)`)
	require.NoError(t, err)
	err = now.Check(ctx)
	assert.ErrorIs(t, err, ErrOld)
	assert.ErrorContains(t, err, "queue")
	_, err = db.ExecContext(ctx, `DROP TABLE river_migration`)
	require.NoError(t, err)
	_, err = db.ExecContext(ctx, `CREATE TABLE river_migration (line TEXT, version BIGINT, created_at TIMESTAMP)`)
	require.NoError(t, err)
	_, err = db.ExecContext(ctx, `INSERT INTO river_migration (line, version, created_at) VALUES ('main', 9999, '2030-01-01 00:00:00')`)
	require.NoError(t, err)
	assert.Error(t, now.Check(ctx), "tables of a queue that is not known")
	assert.Error(t, now.Migrate(ctx))
}
