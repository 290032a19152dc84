package storetest

import (
	"database/sql"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// EachTableGone calls try for each table of a book on SQLite, while that table
// cannot be found: whatever asks for it fails, at the first question or the last.
// Who answers all the same has not looked at the error.
func EachTableGone(t testing.TB, db *sql.DB, try func(table string)) {
	t.Helper()
	for _, table := range tables(t, db) {
		TableGone(t, db, table, func() { try(table) })
	}
}

// TableGone calls try while a table cannot be found.
func TableGone(t testing.TB, db *sql.DB, table string, try func()) {
	t.Helper()
	rename(t, db, table, table+"_gone")
	try()
	rename(t, db, table+"_gone", table)
}

// TableShut calls try while a table can be read and not written.
func TableShut(t testing.TB, db *sql.DB, table string, try func()) {
	t.Helper()
	shut, open := "BEGIN; ", "BEGIN; "
	for _, deed := range []string{"INSERT", "UPDATE", "DELETE"} {
		shut += "CREATE TRIGGER shut_" + deed + " BEFORE " + deed + " ON " + table + " BEGIN SELECT RAISE(ABORT, 'the table " + table + " is shut'); END; "
		open += "DROP TRIGGER shut_" + deed + "; "
	}
	run(t, db, shut+"COMMIT")
	try()
	run(t, db, open+"COMMIT")
}

func tables(t testing.TB, db *sql.DB) (names []string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), `SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'goose%' AND name NOT LIKE 'river%' ORDER BY name`)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		names = append(names, name)
	}
	require.NoError(t, rows.Err())
	require.NotEmpty(t, names)
	return names
}

func rename(t testing.TB, db *sql.DB, from, to string) {
	t.Helper()
	run(t, db, "ALTER TABLE "+from+" RENAME TO "+to)
}

func run(t testing.TB, db *sql.DB, query string) {
	t.Helper()
	_, err := db.ExecContext(t.Context(), query)
	require.NoError(t, err)
}

// Contents are the rows of every table of a book on SQLite, to tell whether
// anything was written.
func Contents(t testing.TB, db *sql.DB) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, table := range tables(t, db) {
		all[table] = contents(t, db, table)
	}
	return all
}

func contents(t testing.TB, db *sql.DB, table string) string {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), "SELECT * FROM "+table)
	require.NoError(t, err)
	defer rows.Close()
	names, err := rows.Columns()
	require.NoError(t, err)
	values, into := make([]any, len(names)), make([]any, len(names))
	for i := range values {
		into[i] = &values[i]
	}
	var out strings.Builder
	for rows.Next() {
		require.NoError(t, rows.Scan(into...))
		fmt.Fprintln(&out, values...)
	}
	require.NoError(t, rows.Err())
	return out.String()
}
