// Package schema decides whether a database has the schema this program was
// built for: that of the book and that of the job queue beside it.
package schema

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"

	"database/sql"

	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivermigrate"
)

// What a refusal says; Check and Migrate wrap them with the versions found.
var (
	ErrOld = errors.New("older than this program: run `winterstand migrate` first")
	ErrNew = errors.New("newer than this program: run the newer winterstand, or restore a copy made before it")
)

// Schema is the migrations of one database.
type Schema[Tx any] struct {
	book  *goose.Provider
	queue *rivermigrate.Migrator[Tx]
}

// New names the migrations of the book in files and of the queue for its driver.
func New[Tx any](dialect goose.Dialect, db *sql.DB, files fs.FS, driver riverdriver.Driver[Tx]) (*Schema[Tx], error) {
	silent := slog.New(slog.NewTextHandler(io.Discard, nil))
	book, err := goose.NewProvider(dialect, db, files, goose.WithSlog(silent))
	if err != nil {
		return nil, fmt.Errorf("migrations of the book: %w", err)
	}
	queue, err := rivermigrate.New(driver, &rivermigrate.Config{Logger: silent})
	if err != nil {
		return nil, fmt.Errorf("migrations of the queue: %w", err)
	}
	return &Schema[Tx]{book, queue}, nil
}

// Check refuses every schema but the one this program was built for: ErrOld, ErrNew.
func (s *Schema[Tx]) Check(ctx context.Context) error {
	if err := s.checkBook(ctx); err != nil {
		return err
	}
	have, want, err := s.queueVersions(ctx)
	if err != nil {
		return err
	}
	return compare("queue", have, want)
}

// Migrate brings the schema up to date; ErrNew where there is no way back.
func (s *Schema[Tx]) Migrate(ctx context.Context) error {
	if err := s.checkBook(ctx); err != nil && !errors.Is(err, ErrOld) {
		return err
	}
	if _, _, err := s.queueVersions(ctx); err != nil {
		return err
	}
	if _, err := s.book.Up(ctx); err != nil {
		return fmt.Errorf("schema of the book: %w", err)
	}
	if _, err := s.queue.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return fmt.Errorf("schema of the queue: %w", err)
	}
	return nil
}

func (s *Schema[Tx]) checkBook(ctx context.Context) error {
	have, want, err := s.book.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("schema of the book: %w", err)
	}
	return compare("book", have, want)
}

// queueVersions are the version of the queue's tables and the one it needs. The
// queue itself fails on a version it does not know.
func (s *Schema[Tx]) queueVersions(ctx context.Context) (have, want int64, err error) {
	existing, err := s.queue.ExistingVersions(ctx)
	if err != nil {
		return 0, 0, fmt.Errorf("schema of the queue, perhaps of a newer program: %w", err)
	}
	return latest(existing), latest(s.queue.AllVersions()), nil
}

func latest(ms []rivermigrate.Migration) (v int64) {
	for _, m := range ms {
		v = max(v, int64(m.Version))
	}
	return v
}

func compare(part string, have, want int64) error {
	switch {
	case have < want:
		return fmt.Errorf("schema of the %s is at %d, needed is %d: %w", part, have, want, ErrOld)
	case have > want:
		return fmt.Errorf("schema of the %s is at %d, known is %d: %w", part, have, want, ErrNew)
	}
	return nil
}
