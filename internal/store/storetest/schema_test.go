package storetest_test

import (
	"context"
	"database/sql"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store/postgres"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
	"winterstand/migrations"
)

func TestMain(m *testing.M) { os.Exit(storetest.Main(m)) }

// The two folders hold the same numbers and names.
func TestMigrationsInPairs(t *testing.T) {
	one, err := fs.Glob(migrations.SQLite(), "*")
	require.NoError(t, err)
	two, err := fs.Glob(migrations.Postgres(), "*")
	require.NoError(t, err)
	require.Equal(t, one, two)
	for _, name := range one {
		require.Regexp(t, `^0000\d_[a-z]+\.sql$`, name)
	}
}

// Both databases hold the same tables with the same columns in the same order,
// NULL allowed in the same ones, of types that hold the same values.
func TestSameSchema(t *testing.T) {
	embedded, server := both(t)
	one := describe(t, embedded, `SELECT m.name, c.name, c.type, c."notnull" OR c.pk > 0 FROM sqlite_schema m, pragma_table_info(m.name) c
		WHERE m.type = 'table' ORDER BY m.name, c.cid`)
	two := describe(t, server, `SELECT table_name, column_name, data_type, is_nullable = 'NO' FROM information_schema.columns
		WHERE table_schema = current_schema ORDER BY table_name, ordinal_position`)
	require.Greater(t, len(one), 150)
	require.Equal(t, one, two)
}

// Every unique key of one database is one of the other.
func TestSameUniqueKeys(t *testing.T) {
	embedded, server := both(t)
	one := describe(t, embedded, `SELECT m.name, (SELECT group_concat(name, ' ') FROM pragma_index_info(i.name)), 'key', 1
		FROM sqlite_schema m, pragma_index_list(m.name) i WHERE m.type = 'table' AND i."unique" AND m.name NOT LIKE 'river%'
		UNION SELECT m.name, 'id', 'key', 1 FROM sqlite_schema m, pragma_table_info(m.name) c
		WHERE m.type = 'table' AND c.name = 'id' AND c.pk = 1
		UNION SELECT 'verdict', 'bed_id', 'key', 1 ORDER BY 1, 2`)
	two := describe(t, server, `SELECT t.relname, string_agg(a.attname, ' ' ORDER BY k.n), 'key', true
		FROM pg_index i JOIN pg_class t ON t.oid = i.indrelid JOIN pg_namespace s ON s.oid = t.relnamespace,
		unnest(i.indkey) WITH ORDINALITY k (attnum, n), pg_attribute a
		WHERE i.indisunique AND a.attrelid = t.oid AND a.attnum = k.attnum AND s.nspname = current_schema
		AND t.relname NOT LIKE 'river%' GROUP BY t.relname, i.indexrelid ORDER BY 1, 2`)
	require.Greater(t, len(one), 25)
	require.ElementsMatch(t, one, two)
}

// Every migration can be taken back and made again.
func TestDownAndUp(t *testing.T) {
	embedded, server := both(t)
	for name, p := range map[string]*goose.Provider{
		"sqlite":   provider(t, goose.DialectSQLite3, embedded, migrations.SQLite()),
		"postgres": provider(t, goose.DialectPostgres, server, migrations.Postgres()),
	} {
		_, err := p.DownTo(t.Context(), 0)
		require.NoError(t, err, name)
		_, err = p.Up(t.Context())
		require.NoError(t, err, name)
	}
}

// UTC, which every farm was given, becomes no zone; one that was chosen stays.
func TestAZoneNobodySetIsNone(t *testing.T) {
	embedded, server := both(t)
	for name, x := range map[string]struct {
		p  *goose.Provider
		db *sql.DB
	}{
		"sqlite":   {provider(t, goose.DialectSQLite3, embedded, migrations.SQLite()), embedded},
		"postgres": {provider(t, goose.DialectPostgres, server, migrations.Postgres()), server},
	} {
		_, err := x.p.DownTo(t.Context(), 4)
		require.NoError(t, err, name)
		for _, zone := range []string{"UTC", "Europe/Oslo"} {
			_, err = x.db.ExecContext(t.Context(), farmOf(zone))
			require.NoError(t, err, name)
		}
		_, err = x.p.Up(t.Context())
		require.NoError(t, err, name)
		require.Equal(t, []string{"", "Europe/Oslo"}, zones(t, x.db), name)
		_, err = x.p.DownTo(t.Context(), 4)
		require.NoError(t, err, name)
		require.Equal(t, []string{"UTC", "Europe/Oslo"}, zones(t, x.db), name)
	}
}

// farmOf is an entry of both databases.
func farmOf(zone string) string {
	return `INSERT INTO farm (name, units, language, time_zone, currency, notice_lead_s, moved_step_s, blind_after_s, wind_chill_limit_c,
		still_watching, crew, wanted, calendar_secret, created_at, version)
		VALUES ('` + zone + `', 'us', 'en', '` + zone + `', 'USD', 1, 1, 1, -20, TRUE, '[]', '[]', '` + zone + `', 0, 1)`
}

func zones(t *testing.T, db *sql.DB) (out []string) {
	rows, err := db.QueryContext(t.Context(), `SELECT time_zone FROM farm ORDER BY id`)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var zone string
		require.NoError(t, rows.Scan(&zone))
		out = append(out, zone)
	}
	require.NoError(t, rows.Err())
	return out
}

func provider(t *testing.T, d goose.Dialect, db *sql.DB, files fs.FS) *goose.Provider {
	p, err := goose.NewProvider(d, db, files)
	require.NoError(t, err)
	return p
}

func both(t *testing.T) (embedded, server *sql.DB) {
	url := storetest.Database(t)
	one, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	require.NoError(t, err)
	two, err := postgres.Open(t.Context(), url, postgres.Options{Migrate: true})
	require.NoError(t, err)
	server = stdlib.OpenDBFromPool(two.Pool())
	t.Cleanup(func() {
		require.NoError(t, server.Close())
		require.NoError(t, two.Close())
		require.NoError(t, one.Close())
	})
	return one.DB(), server
}

type column struct {
	table, name, holds string
	required           bool
}

// describe runs a query of table, column, type, required; the tables of the
// queue and of goose are not ours to compare.
func describe(t *testing.T, db *sql.DB, query string) (cs []column) {
	rows, err := db.QueryContext(context.Background(), query)
	require.NoError(t, err)
	defer rows.Close()
	foreign := regexp.MustCompile(`^(river|goose|sqlite)_`)
	for rows.Next() {
		var c column
		require.NoError(t, rows.Scan(&c.table, &c.name, &c.holds, &c.required))
		if foreign.MatchString(c.table) {
			continue
		}
		c.holds = holds(c.holds)
		cs = append(cs, c)
	}
	require.NoError(t, rows.Err())
	return cs
}

// holds is what a type of either database can hold.
func holds(kind string) string {
	switch strings.ToLower(kind) {
	case "integer", "bigint", "smallint", "boolean":
		return "whole number"
	case "real", "double precision":
		return "number"
	case "blob", "bytea":
		return "bytes"
	}
	return strings.ToLower(kind)
}
