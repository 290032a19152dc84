package sqlite

import (
	"context"
	"strings"
	"time"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
	"winterstand/internal/weather"
)

const (
	quantityColumns = "air_c, dew_point_c, wind_ms, cloud_fraction, precip_mm, snow_depth_cm, shortwave_wm2"
	hourColumns     = "cell_id, at, origin_rank, " + quantityColumns
)

func (r reader) Hours(ctx context.Context, cellID int64, from, to time.Time) (_ []weather.Hour, err error) {
	defer row.Wrap(&err, "hours of cell %d", cellID)
	return many(ctx, r.q, row.ScanHour, `SELECT at, `+quantityColumns+` FROM hour
		WHERE cell_id = ?1 AND at >= ?2 AND at < ?3 ORDER BY at`, cellID, row.Instant(from), row.Instant(to))
}

func (w writer) PutHours(ctx context.Context, cellID int64, origin weather.Origin, hours []weather.Hour) (err error) {
	defer row.Wrap(&err, "put hours of cell %d", cellID)
	rows, err := row.HoursValues(cellID, origin, hours)
	if err != nil {
		return err
	}
	return w.bulk(ctx, `INSERT INTO hour (`+hourColumns+`)`, `ON CONFLICT (cell_id, at) DO UPDATE SET `+strongest(), rows)
}

func (w writer) CopyHours(ctx context.Context, from, to int64) (err error) {
	defer row.Wrap(&err, "copy hours of cell %d to cell %d", from, to)
	_, err = w.exec(ctx, `INSERT INTO hour (`+hourColumns+`) SELECT ?2, at, origin_rank, `+quantityColumns+`
		FROM hour WHERE cell_id = ?1 ON CONFLICT (cell_id, at) DO NOTHING`, from, to)
	return err
}

// strongest keeps for every quantity what the strongest origin knows of it: a
// station without a rain gauge does not wipe out the analysis of the rain.
func strongest() string {
	set := "origin_rank = max(excluded.origin_rank, hour.origin_rank)"
	for _, q := range strings.Split(quantityColumns, ", ") {
		set += ", " + q + " = CASE WHEN excluded.origin_rank >= hour.origin_rank THEN coalesce(excluded." + q + ", hour." + q +
			") ELSE coalesce(hour." + q + ", excluded." + q + ") END"
	}
	return set
}

func (r reader) Checkpoints(ctx context.Context, cellID int64) (_ map[string]store.Checkpoint, err error) {
	defer row.Wrap(&err, "checkpoints of cell %d", cellID)
	list, err := many(ctx, r.q, row.ScanCheckpoint,
		`SELECT class, as_of, body FROM checkpoint WHERE cell_id = ?1 ORDER BY class`, cellID)
	byClass := make(map[string]store.Checkpoint, len(list))
	for _, c := range list {
		byClass[c.Class] = c.Checkpoint
	}
	return byClass, err
}

func (w writer) SaveCheckpoints(ctx context.Context, cellID int64, byClass map[string]store.Checkpoint) (err error) {
	defer row.Wrap(&err, "save checkpoints of cell %d", cellID)
	rows, err := row.CheckpointsValues(cellID, byClass)
	if err != nil {
		return err
	}
	return w.bulk(ctx, `INSERT INTO checkpoint (cell_id, class, as_of, body)`,
		`ON CONFLICT (cell_id, class) DO UPDATE SET (as_of, body) = (excluded.as_of, excluded.body)`, rows)
}

func (w writer) DropCheckpoints(ctx context.Context, cellID int64, t time.Time) (err error) {
	defer row.Wrap(&err, "drop checkpoints of cell %d", cellID)
	_, err = w.exec(ctx, `DELETE FROM checkpoint WHERE cell_id = ?1 AND as_of > ?2`, cellID, row.Instant(t))
	return err
}
