// Package migrations holds the schema of both databases: the same numbers and
// the same names of tables and columns, each in its own SQL.
package migrations

import (
	"embed"
	"io/fs"
)

//go:embed sqlite/*.sql postgres/*.sql
var files embed.FS

// SQLite is the folder of the embedded database.
func SQLite() fs.FS { return folder("sqlite") }

// Postgres is the folder of the server database.
func Postgres() fs.FS { return folder("postgres") }

func folder(name string) fs.FS {
	sub, err := fs.Sub(files, name)
	if err != nil {
		panic(err) // only an invalid name can fail, and both are constants
	}
	return sub
}
