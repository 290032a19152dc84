package postgres_test

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/postgres"
	"winterstand/internal/store/storetest"
)

// Two transactions that change two rows in opposite order wait for each other;
// the database ends one, and it runs again.
func TestDeadlockRunsAgain(t *testing.T) {
	s := open(t, storetest.Database(t), postgres.Options{Migrate: true})
	var ids [2]int64
	require.NoError(t, s.Write(t.Context(), func(w store.Writer) (err error) {
		for i, name := range []string{"a", "b"} {
			if ids[i], err = w.AddFarm(t.Context(), farm.New(name, time.Unix(0, 0))); err != nil {
				return err
			}
		}
		return nil
	}))
	var met, all sync.WaitGroup
	met.Add(2)
	runs := make([]int, 2)
	for i := range 2 {
		all.Go(func() {
			err := s.Write(t.Context(), func(w store.Writer) error {
				runs[i]++
				if err := touch(t.Context(), w, ids[i]); err != nil {
					return err
				}
				if runs[i] == 1 { // both hold their first row
					met.Done()
					met.Wait()
				}
				return touch(t.Context(), w, ids[1-i])
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	require.GreaterOrEqual(t, runs[0]+runs[1], 3, "one of them again; on a busy machine more often")
	for _, id := range ids {
		f, err := s.Farm(t.Context(), id)
		require.NoError(t, err)
		require.EqualValues(t, 3, f.Version, "both changed both")
	}
}

func touch(ctx context.Context, w store.Writer, id int64) error {
	f, err := w.Farm(ctx, id)
	if err != nil {
		return err
	}
	for {
		err := w.UpdateFarm(ctx, f)
		if !errors.Is(err, store.ErrChanged) {
			return err
		}
		if f, err = w.Farm(ctx, id); err != nil { // the other was first: on what it left
			return err
		}
	}
}

// A write that always collides ends with the database's own error.
func TestCollisionForEver(t *testing.T) {
	s := open(t, storetest.Database(t), postgres.Options{Migrate: true})
	runs := 0
	err := s.Write(t.Context(), func(w store.Writer) error {
		runs++
		return &pgconn.PgError{Code: "40001"}
	})
	require.Error(t, err)
	require.Equal(t, 4, runs)

	ctx, cancel := context.WithCancel(t.Context())
	runs = 0
	err = s.Write(ctx, func(w store.Writer) error {
		runs++
		cancel()
		return &pgconn.PgError{Code: "40P01"}
	})
	require.Error(t, err)
	require.Equal(t, 1, runs, "not after the end of its context")
}

// The same issue fetched by two processes at once is one forecast.
func TestSameIssueFromTwoProcesses(t *testing.T) {
	s := open(t, storetest.Database(t), postgres.Options{Migrate: true})
	var cell int64
	require.NoError(t, s.Write(t.Context(), func(w store.Writer) (err error) {
		cell, err = w.SaveCell(t.Context(), store.Cell{Key: "one"})
		return err
	}))
	ids := make([]int64, 6)
	var all sync.WaitGroup
	for i := range ids {
		all.Go(func() {
			err := s.Write(t.Context(), func(w store.Writer) (err error) {
				ids[i], err = w.AddForecast(t.Context(), store.Forecast{CellID: cell, Source: "nws", Issued: time.Unix(3600, 0)})
				return err
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	for _, id := range ids {
		require.Equal(t, ids[0], id)
	}
}
