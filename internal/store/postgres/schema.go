package postgres

import (
	"context"
	"database/sql"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"winterstand/internal/store/row"
	"winterstand/internal/store/schema"
	"winterstand/migrations"
)

// Migrate brings the schema of the book and of the queue up to date, one
// process at a time. A schema newer than this program knows is left alone:
// schema.ErrNew.
func (s *Store) Migrate(ctx context.Context) (err error) {
	defer row.Wrap(&err, "migrate")
	return s.withSchema(func(db *sql.DB, sc *schema.Schema[pgx.Tx]) error {
		unlock, err := lock(ctx, db)
		if err != nil {
			return err
		}
		defer unlock()
		return sc.Migrate(ctx)
	})
}

// checkSchema refuses every schema but the one this program was built for.
func (s *Store) checkSchema(ctx context.Context) error {
	return s.withSchema(func(_ *sql.DB, sc *schema.Schema[pgx.Tx]) error { return sc.Check(ctx) })
}

// withSchema gives goose connections of its own: the pool may be as small as
// one, which the lock would hold.
func (s *Store) withSchema(do func(*sql.DB, *schema.Schema[pgx.Tx]) error) error {
	db := stdlib.OpenDB(*s.pool.Config().ConnConfig)
	defer db.Close()
	sc, err := schema.New(goose.DialectPostgres, db, migrations.Postgres(), riverpgxv5.New(s.pool))
	if err != nil {
		return err
	}
	return do(db, sc)
}

// migrationLock is an arbitrary number that means "winterstand is migrating".
const migrationLock = 0x77696e746572

// lock waits until no other process migrates.
func lock(ctx context.Context, db *sql.DB) (unlock func(), err error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, fmt.Errorf("wait for other migrations: %w", err)
	}
	if _, err := conn.ExecContext(ctx, `SELECT pg_advisory_lock($1)`, migrationLock); err != nil {
		conn.Close()
		return nil, fmt.Errorf("wait for other migrations: %w", err)
	}
	return func() {
		// closing the connection would release it too, only later
		_, _ = conn.ExecContext(context.WithoutCancel(ctx), `SELECT pg_advisory_unlock($1)`, migrationLock)
		conn.Close()
	}, nil
}
