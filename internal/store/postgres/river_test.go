package postgres_test

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/stretchr/testify/require"

	"winterstand/internal/store"
	"winterstand/internal/store/postgres"
	"winterstand/internal/store/storetest"
)

func TestQueueOnTheSameHandle(t *testing.T) {
	s, err := postgres.Open(t.Context(), storetest.Database(t), postgres.Options{Migrate: true})
	require.NoError(t, err)
	defer s.Close()
	storetest.RunQueue(t, s.Store, riverpgxv5.New(s.Pool()), func(e func(context.Context, pgx.Tx, []store.Job) error) { s.Attach(e) })
}
