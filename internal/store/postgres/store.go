// Package postgres keeps the book in PostgreSQL, for any number of processes.
package postgres

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"winterstand/internal/store"
	"winterstand/internal/store/book"
	"winterstand/internal/store/row"
)

// Options of Open.
type Options struct {
	Migrate bool // bring an old schema up to date instead of refusing it
}

// Store is a store.Store in a PostgreSQL database.
type Store struct {
	store.Store
	pool    *pgxpool.Pool
	enqueue Enqueue
}

// Enqueue adds jobs to the queue within tx.
type Enqueue func(ctx context.Context, tx pgx.Tx, jobs []store.Job) error

// Open connects to a postgres:// URL, with pgx's own parameters such as
// pool_max_conns. An empty database, an older and a newer schema are refused
// unless Options.Migrate is set; a newer one is refused always. No error shows
// the password.
func Open(ctx context.Context, url string, o Options) (_ *Store, err error) {
	c, err := config(url)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	defer row.Wrap(&err, "open database %s on %s", c.ConnConfig.Database, c.ConnConfig.Host)
	pool, err := pgxpool.NewWithConfig(ctx, c)
	if err != nil {
		return nil, err
	}
	s := &Store{pool: pool}
	s.Store = store.Store{Reader: book.NewReader(querier{pool}), Database: s}
	ready := s.checkSchema
	if o.Migrate {
		ready = s.Migrate
	}
	if err := ready(ctx); err != nil {
		pool.Close()
		return nil, err
	}
	return s, nil
}

// connections where the URL does not say: the queue holds one for listening,
// and the default of four on a small machine leaves too few beside it.
const connections = 16

func config(url string) (*pgxpool.Config, error) {
	c, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, err
	}
	if !strings.Contains(url, "pool_max_conns") {
		c.MaxConns = connections
	}
	if _, named := c.ConnConfig.RuntimeParams["application_name"]; !named {
		c.ConnConfig.RuntimeParams["application_name"] = "winterstand"
	}
	return c, nil
}

// Attach gives the queue that Enqueue of a Writer adds to. Call it once,
// before the first Write.
func (s *Store) Attach(e Enqueue) { s.enqueue = e }

// Pool is the pool of connections, for the queue to share.
func (s *Store) Pool() *pgxpool.Pool { return s.pool }

const tries = 4 // of a write that another one broke

// Write runs fn in one transaction. Where two transactions wait for each other
// the database ends one of them; that one is rolled back and fn runs again, so
// fn must leave nothing behind but what it wrote.
func (s *Store) Write(ctx context.Context, fn func(store.Writer) error) error {
	for try := 1; ; try++ {
		err := s.writeOnce(ctx, fn)
		if try == tries || !broken(err) || !pause(ctx, try) {
			return err
		}
	}
}

func (s *Store) writeOnce(ctx context.Context, fn func(store.Writer) error) error {
	tx, err := s.pool.Begin(ctx)
	if err != nil {
		return fmt.Errorf("begin to write: %w", err)
	}
	defer tx.Rollback(context.WithoutCancel(ctx)) // after Commit it does nothing
	if err := fn(book.NewWriter(transaction{querier{tx}, tx, s.enqueue})); err != nil {
		return err
	}
	if err := tx.Commit(ctx); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	return nil
}

// broken tells whether the database ended a transaction in favour of another.
func broken(err error) bool {
	const serializationFailure, deadlockDetected = "40001", "40P01"
	var refused *pgconn.PgError
	return errors.As(err, &refused) && (refused.Code == serializationFailure || refused.Code == deadlockDetected)
}

// pause waits a random while, longer each time; false when ctx ends first.
func pause(ctx context.Context, try int) bool {
	t := time.NewTimer(rand.N(time.Duration(try) * 20 * time.Millisecond))
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// Ping tells whether the database answers.
func (s *Store) Ping(ctx context.Context) (err error) {
	defer row.Wrap(&err, "ping database")
	return s.pool.Ping(ctx)
}

// Close ends all connections; it waits for those in use.
func (s *Store) Close() error {
	s.pool.Close()
	return nil
}
