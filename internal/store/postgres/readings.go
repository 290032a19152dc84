package postgres

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"winterstand/internal/farm"
	"winterstand/internal/store/row"
)

const (
	readingColumns = "farm_id, field_id, at, quantity, depth_cm, value"
	findingColumns = "farm_id, bed_id, night, lost_fraction, note, created_at"
)

func (r reader) Readings(ctx context.Context, farmID, fieldID int64, from, to time.Time) (_ []farm.Reading, err error) {
	defer row.Wrap(&err, "readings of field %d", fieldID)
	return many(ctx, r.q, row.ScanReading, `SELECT id, `+readingColumns+` FROM reading
		WHERE farm_id = $1 AND field_id = $2 AND at >= $3 AND at < $4 ORDER BY at, id`,
		farmID, fieldID, row.Instant(from), row.Instant(to))
}

func (w writer) AddReadings(ctx context.Context, rs []farm.Reading) (_ []int64, err error) {
	ids := make([]int64, len(rs))
	var batch pgx.Batch
	for i, r := range rs {
		if err := queueReading(&batch, r, &ids[i]); err != nil {
			return nil, err
		}
	}
	if err := w.tx.SendBatch(ctx, &batch).Close(); err != nil {
		return nil, fmt.Errorf("add %d readings: %w", len(rs), sentinel(err))
	}
	return ids, nil
}

// queueReading adds one to the batch, which sends all in one round trip; its
// ID is known when the batch has run.
func queueReading(batch *pgx.Batch, r farm.Reading, id *int64) (err error) {
	defer row.Wrap(&err, "add reading %s of field %d", r.Quantity, r.FieldID)
	vs, err := row.ReadingValues(r)
	if err != nil {
		return err
	}
	batch.Queue(`INSERT INTO reading (`+readingColumns+`) VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`, vs...).
		QueryRow(func(r pgx.Row) error { return r.Scan(id) })
	return nil
}

func (r reader) Findings(ctx context.Context, farmID, bedID int64) (_ []farm.Finding, err error) {
	defer row.Wrap(&err, "findings of farm %d", farmID)
	return many(ctx, r.q, row.ScanFinding, `SELECT id, `+findingColumns+` FROM finding
		WHERE farm_id = $1 AND ($2::bigint = 0 OR bed_id = $2) ORDER BY id`, farmID, bedID)
}

func (w writer) AddFinding(ctx context.Context, f farm.Finding) (_ int64, err error) {
	defer row.Wrap(&err, "add finding of bed %d", f.BedID)
	vs, err := row.FindingValues(f)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "finding", findingColumns, "", vs)
}
