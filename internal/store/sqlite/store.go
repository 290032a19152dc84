// Package sqlite keeps the book in one file, for one process: the embedded
// database.
//
// Writing goes through one connection, so that writers of this process queue
// in order instead of colliding; reading has its own connections, which see
// what was last committed and never wait for a writer.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	_ "github.com/mattn/go-sqlite3" // the driver "sqlite3"

	"winterstand/internal/store"
	"winterstand/internal/store/book"
	"winterstand/internal/store/row"
)

// Options of Open.
type Options struct {
	Migrate bool // bring an old schema up to date instead of refusing it
}

// Store is a store.Store in a SQLite file.
type Store struct {
	store.Store
	writing *sql.DB // one connection
	reading *sql.DB
	enqueue Enqueue
}

// Enqueue adds jobs to the queue within tx.
type Enqueue func(ctx context.Context, tx *sql.Tx, jobs []store.Job) error

var driver = "sqlite3"

const readers = 4 // connections for reading; more only wait for the same disk

// Open opens the file at path, which is made where it is missing. An empty
// file, an older and a newer schema are refused unless Options.Migrate is set;
// a newer one is refused always.
func Open(ctx context.Context, path string, o Options) (_ *Store, err error) {
	defer row.Wrap(&err, "open database %s", path)
	s, err := connect(path)
	if err != nil {
		return nil, err
	}
	ready := s.checkSchema
	if o.Migrate {
		ready = s.Migrate
	}
	if err := ready(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func connect(path string) (*Store, error) {
	if path == "" || strings.Contains(path, ":memory:") {
		return nil, fmt.Errorf("path %q: must name a file; a database in memory is one per connection", path)
	}
	writing, err := sql.Open(driver, dsn(path, "_txlock=immediate"))
	if err != nil {
		return nil, err
	}
	writing.SetMaxOpenConns(1)
	reading, err := sql.Open(driver, dsn(path, "_query_only=on"))
	if err != nil {
		return nil, errors.Join(err, writing.Close())
	}
	reading.SetMaxOpenConns(readers)
	reading.SetMaxIdleConns(readers)
	s := &Store{writing: writing, reading: reading}
	s.Store = store.Store{Reader: book.NewReader(querier{reading}), Database: s}
	return s, nil
}

// dsn escapes what would end the path of a file: URI. Every commit reaches the
// disk before it is answered (synchronous FULL; the driver's default would lose
// the last ones when the power fails).
func dsn(path, mode string) string {
	escaped := strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(path)
	return "file:" + escaped + "?_foreign_keys=on&_journal_mode=WAL&_busy_timeout=5000&_synchronous=FULL&" + mode
}

// Attach gives the queue that Enqueue of a Writer adds to. Call it once,
// before the first Write.
func (s *Store) Attach(e Enqueue) { s.enqueue = e }

// DB is the one connection for writing, for the queue to share: it must not be
// used inside Write, which holds it.
func (s *Store) DB() *sql.DB { return s.writing }

// Write runs fn in one transaction. Nothing else writes meanwhile; inside fn
// only the Writer may be used, since the one connection is held: a second
// Write inside fn would wait for ever.
func (s *Store) Write(ctx context.Context, fn func(store.Writer) error) error {
	tx, err := s.writing.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("begin to write: %w", err)
	}
	defer tx.Rollback() // after Commit it does nothing
	if err := fn(book.NewWriter(transaction{querier{tx}, tx, s.enqueue})); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		// A context that ends just before rolls back, and Commit says only that.
		return fmt.Errorf("commit: %w", errors.Join(ctx.Err(), err))
	}
	return nil
}

// Ping tells whether the file can be read and written.
func (s *Store) Ping(ctx context.Context) (err error) {
	defer row.Wrap(&err, "ping database")
	return errors.Join(s.reading.PingContext(ctx), s.writing.PingContext(ctx))
}

// Close ends all connections.
func (s *Store) Close() error {
	return errors.Join(s.reading.Close(), s.writing.Close())
}
