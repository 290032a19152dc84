package storetest

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"
)

// EachTableGone calls try for each table of a book on SQLite, while that table
// cannot be found: whatever asks for it fails, at the first question or the last.
// Who answers all the same has not looked at the error.
func EachTableGone(t testing.TB, db *sql.DB, try func(table string)) {
	t.Helper()
	for _, table := range tables(t, db) {
		rename(t, db, table, table+"_gone")
		try(table)
		rename(t, db, table+"_gone", table)
	}
}

func tables(t testing.TB, db *sql.DB) (names []string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), `SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'goose%' ORDER BY name`)
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
	_, err := db.ExecContext(t.Context(), "ALTER TABLE "+from+" RENAME TO "+to)
	require.NoError(t, err)
}
