package postgres

import (
	"context"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	cellValues  = "key, latitude, longitude, elevation_m, time_zone, sources, warnings, resolved_at"
	cellColumns = "id, " + cellValues

	// cellsInUse hold a field with a standing bed.
	cellsInUse = `SELECT cell_id FROM field WHERE cell_id IS NOT NULL AND removed_at IS NULL
		AND EXISTS (SELECT 1 FROM bed WHERE field_id = field.id AND cleared_at IS NULL)`
)

func (r reader) Cell(ctx context.Context, id int64) (_ store.Cell, err error) {
	defer row.Wrap(&err, "cell %d", id)
	return one(ctx, r.q, row.ScanCell, `SELECT `+cellColumns+` FROM cell WHERE id = $1`, id)
}

func (r reader) CellByKey(ctx context.Context, key string) (_ store.Cell, err error) {
	defer row.Wrap(&err, "cell %s", key)
	return one(ctx, r.q, row.ScanCell, `SELECT `+cellColumns+` FROM cell WHERE key = $1`, key)
}

func (r reader) CellsInUse(ctx context.Context) (_ []store.Cell, err error) {
	defer row.Wrap(&err, "cells in use")
	return many(ctx, r.q, row.ScanCell,
		`SELECT `+cellColumns+` FROM cell WHERE id IN (`+cellsInUse+`) ORDER BY id`)
}

func (w writer) SaveCell(ctx context.Context, c store.Cell) (_ int64, err error) {
	defer row.Wrap(&err, "save cell %s", c.Key)
	vs, err := row.CellValues(c)
	if err != nil {
		return 0, err
	}
	return one(ctx, w.tx, scanID, `INSERT INTO cell (`+cellValues+`) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
		ON CONFLICT (key) DO UPDATE SET (latitude, longitude, elevation_m, time_zone, sources, warnings, resolved_at) =
		(excluded.latitude, excluded.longitude, excluded.elevation_m, excluded.time_zone, excluded.sources,
		excluded.warnings, excluded.resolved_at) RETURNING id`, vs...)
}
