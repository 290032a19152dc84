package book

import (
	"context"
	"fmt"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

// Message states stand at ?1 queued, ?2 sent, ?3 given up.
var counts = row.Of("(SELECT 1) AS all_of_it", "", func(c *store.Counts) []row.Column {
	return []row.Column{
		row.Whole("(SELECT count(*) FROM farm)", &c.Farms),
		row.Whole("(SELECT count(*) FROM field WHERE removed_at IS NULL)", &c.Fields),
		row.Whole("(SELECT count(*) FROM bed WHERE "+standing+")", &c.Beds),
		row.Whole("(SELECT count(*) FROM cell)", &c.Cells),
		row.Whole("(SELECT count(*) FROM notice)", &c.Notices),
		row.Whole("(SELECT count(*) FROM message WHERE state = ?1)", &c.MessagesQueued),
		row.Whole("(SELECT count(*) FROM message WHERE state = ?2)", &c.MessagesSent),
		row.Whole("(SELECT count(*) FROM message WHERE state = ?3)", &c.GivenUp),
		row.MaybeAt("(SELECT min(created_at) FROM message WHERE state = ?1)", &c.OldestQueued),
		row.MaybeAt("(SELECT min(newest) FROM (SELECT max(issued_at) AS newest FROM forecast"+
			" WHERE cell_id IN ("+inUse+") GROUP BY cell_id) AS newest_by_cell)", &c.OldestForecast),
	}
})

func (r reader) Counts(ctx context.Context) (_ store.Counts, err error) {
	defer row.Wrap(&err, "counts")
	return one(ctx, r.q, counts, "", store.Queued, store.Sent, store.GivenUp)
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
		if _, err := w.tx.Exec(ctx, step.query, step.before); err != nil {
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

// Enqueue refuses a job that does not name exactly one thing.
func (w writer) Enqueue(ctx context.Context, jobs ...store.Job) (err error) {
	defer row.Wrap(&err, "enqueue %d jobs", len(jobs))
	if err := checkJobs(jobs); err != nil || len(jobs) == 0 {
		return err
	}
	return w.tx.Enqueue(ctx, jobs)
}

func checkJobs(jobs []store.Job) error {
	for _, j := range jobs {
		named := 0
		for _, id := range []int64{j.MessageID, j.CellID, j.FieldID} {
			if id != 0 {
				named++
			}
		}
		if named != 1 {
			return fmt.Errorf("job %+v: must name exactly one of message, cell and field", j)
		}
	}
	return nil
}
