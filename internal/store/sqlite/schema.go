package sqlite

import (
	"context"
	"database/sql"

	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riversqlite"

	"winterstand/internal/store/row"
	"winterstand/internal/store/schema"
	"winterstand/migrations"
)

// Migrate brings the schema of the book and of the queue up to date. A schema
// newer than this program knows is left alone: schema.ErrNew.
func (s *Store) Migrate(ctx context.Context) (err error) {
	defer row.Wrap(&err, "migrate")
	sc, err := s.schema()
	if err != nil {
		return err
	}
	return sc.Migrate(ctx)
}

// checkSchema refuses every schema but the one this program was built for.
func (s *Store) checkSchema(ctx context.Context) error {
	sc, err := s.schema()
	if err != nil {
		return err
	}
	return sc.Check(ctx)
}

func (s *Store) schema() (*schema.Schema[*sql.Tx], error) {
	return schema.New(goose.DialectSQLite3, s.writing, migrations.SQLite(), riversqlite.New(s.writing))
}
