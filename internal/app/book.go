package app

import (
	"context"
	"fmt"
	"time"

	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/riverdriver/riversqlite"

	"winterstand/internal/outside/settings"
	"winterstand/internal/service/schedule"
	"winterstand/internal/store"
	"winterstand/internal/store/postgres"
	"winterstand/internal/store/sqlite"
)

// queue is what the service needs of its job queue, whatever the database.
type queue interface {
	Start(ctx context.Context) error
	Stop(ctx context.Context) error
	BreakOff(ctx context.Context) error
}

// book is a store with the means to make its queue.
type book struct {
	store.Store
	newQueue func(schedule.Options) (queue, error)
}

// Workers that take jobs at once; most of their time they wait for a service,
// a mail server or the database.
const (
	sqliteWorkers   = 16
	postgresWorkers = 16
	pollEvery       = 250 * time.Millisecond
)

// openBook opens the database of the settings; migrate brings its schema up to date.
func openBook(ctx context.Context, s settings.Settings, migrate bool) (*book, error) {
	kind, where, err := s.DatabaseKind()
	if err != nil {
		return nil, fmt.Errorf("settings database: %w", err)
	}
	if kind == "postgres" {
		return openPostgres(ctx, where, migrate)
	}
	return openSQLite(ctx, where, migrate)
}

func openSQLite(ctx context.Context, path string, migrate bool) (*book, error) {
	store, err := sqlite.Open(ctx, path, sqlite.Options{Migrate: migrate})
	if err != nil {
		return nil, err
	}
	return &book{Store: store.Store, newQueue: func(o schedule.Options) (queue, error) {
		o.Workers, o.PollEvery = sqliteWorkers, pollEvery
		q, err := schedule.New(riversqlite.New(store.DB()), o)
		if err != nil {
			return nil, err
		}
		store.Attach(q.Enqueue)
		return q, nil
	}}, nil
}

func openPostgres(ctx context.Context, url string, migrate bool) (*book, error) {
	store, err := postgres.Open(ctx, url, postgres.Options{Migrate: migrate})
	if err != nil {
		return nil, err
	}
	return &book{Store: store.Store, newQueue: func(o schedule.Options) (queue, error) {
		o.Workers, o.PollEvery = postgresWorkers, time.Second
		q, err := schedule.New(riverpgxv5.New(store.Pool()), o)
		if err != nil {
			return nil, err
		}
		store.Attach(q.Enqueue)
		return q, nil
	}}, nil
}
