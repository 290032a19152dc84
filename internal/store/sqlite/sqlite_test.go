package sqlite_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"
	"time"

	"github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/require"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/sqlite"
	"winterstand/internal/store/storetest"
	"winterstand/internal/unit"
)

// Rows come in the reverse of their usual order where nobody asked for one, so
// that a query that forgot to ask shows. In the usual order the suite runs beside
// the queries, in store/book.
func TestConformanceInReverse(t *testing.T) {
	sqlite.UseDriver(t, "sqlite3-reversed")
	storetest.Run(t, fresh)
}

func init() {
	sql.Register("sqlite3-reversed", &sqlite3.SQLiteDriver{ConnectHook: func(c *sqlite3.SQLiteConn) error {
		_, err := c.Exec("PRAGMA reverse_unordered_selects = ON", nil)
		return err
	}})
}

func fresh(t *testing.T) storetest.Opener {
	path := filepath.Join(t.TempDir(), "book ?#%.db") // what a URI would take apart
	return func(t *testing.T) store.Store {
		s, err := sqlite.Open(t.Context(), path, sqlite.Options{Migrate: true})
		require.NoError(t, err)
		s.Attach(keepAsMemo)
		return s.Store
	}
}

// keepAsMemo is the queue the suite asks for.
func keepAsMemo(ctx context.Context, tx *sql.Tx, jobs []store.Job) error {
	for _, j := range jobs {
		_, err := tx.ExecContext(ctx, `INSERT INTO memo (kind, owner, body, updated_at) VALUES (?1, ?2, ?3, 0)`,
			storetest.JobKind, storetest.JobOwner(j), storetest.JobBody(j))
		if err != nil {
			return err
		}
	}
	return nil
}

// What a verdict repeats beside its body, for people who look into the table,
// follows every change of it.
func TestVerdictIsRepeatedInColumns(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "book.db"), sqlite.Options{Migrate: true})
	save := func(w store.Writer, bed int64, v farm.Verdict) {
		require.NoError(t, w.SaveVerdicts(t.Context(), []store.Verdict{{BedID: bed, Kept: farm.Keep(v)}}))
	}
	later := time.Unix(7200, 0)
	require.NoError(t, s.Write(t.Context(), func(w store.Writer) error {
		owner, err := w.AddFarm(t.Context(), farm.New("one", time.Unix(0, 0)))
		require.NoError(t, err)
		field, err := w.AddField(t.Context(), farm.Field{FarmID: owner})
		require.NoError(t, err)
		bed, err := w.AddBed(t.Context(), farm.Bed{FarmID: owner, FieldID: field})
		require.NoError(t, err)
		save(w, bed, farm.Verdict{State: farm.Holds, AsOf: time.Unix(0, 0)})
		save(w, bed, farm.Verdict{State: farm.HarvestBefore, AsOf: later, Forecast: farm.Basis{ID: 4711}, Night: "2026-11-14",
			HarvestBefore: unit.Some(later), Likelihood: unit.Some(0.25)})
		return nil
	}))
	var state, night string
	var asOf, forecast, before int64
	var likelihood float64
	require.NoError(t, s.DB().QueryRowContext(t.Context(), `SELECT state, night, as_of, forecast_id, harvest_before, likelihood FROM verdict`).
		Scan(&state, &night, &asOf, &forecast, &before, &likelihood))
	require.Equal(t, []any{"harvest_before", "2026-11-14", int64(7200), int64(4711), int64(7200), 0.25},
		[]any{state, night, asOf, forecast, before, likelihood})
}
