package sqlite

import (
	"context"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

func (r reader) Counts(ctx context.Context) (_ store.Counts, err error) {
	defer row.Wrap(&err, "counts")
	return one(ctx, r.q, row.ScanCounts, `SELECT
		(SELECT count(*) FROM farm),
		(SELECT count(*) FROM field WHERE removed_at IS NULL),
		(SELECT count(*) FROM bed WHERE cleared_at IS NULL AND field_id IN (SELECT id FROM field WHERE removed_at IS NULL)),
		(SELECT count(*) FROM cell),
		(SELECT count(*) FROM notice),
		(SELECT count(*) FROM message WHERE state = ?1),
		(SELECT count(*) FROM message WHERE state = ?2),
		(SELECT count(*) FROM message WHERE state = ?3),
		(SELECT min(created_at) FROM message WHERE state = ?1),
		(SELECT min(newest) FROM (SELECT max(issued_at) AS newest FROM forecast
			WHERE cell_id IN (`+cellsInUse+`) GROUP BY cell_id))`,
		store.Queued, store.Sent, store.GivenUp)
}

const historyYears = 2 // hours kept

func (w writer) Prune(ctx context.Context, now time.Time, keep time.Duration) (err error) {
	defer row.Wrap(&err, "prune")
	old := row.Instant(now.Add(-keep))
	for _, step := range []struct {
		query  string
		before int64
	}{
		{`DELETE FROM reply WHERE until < ?1`, row.Instant(now)},
		{`DELETE FROM session WHERE until < ?1`, row.Instant(now)},
		{`DELETE FROM once WHERE until < ?1`, row.Instant(now)},
		{`DELETE FROM checkpoint WHERE as_of < ?1`, old},
		{pruneForecasts, old},
		{`DELETE FROM hour WHERE cell_id IN (SELECT id FROM cell) AND at < ?1`, row.Instant(now.AddDate(-historyYears, 0, 0))},
	} {
		if _, err := w.exec(ctx, step.query, step.before); err != nil {
			return err
		}
	}
	return nil
}

// pruneForecasts keeps the newest of each cell and source: since when there is
// none must be known for as long as there is none.
const pruneForecasts = `DELETE FROM forecast WHERE issued_at < ?1
	AND NOT EXISTS (SELECT 1 FROM notice WHERE notice.forecast_id = forecast.id)
	AND EXISTS (SELECT 1 FROM forecast AS newer WHERE newer.cell_id = forecast.cell_id
		AND newer.source = forecast.source AND newer.issued_at > forecast.issued_at)`
