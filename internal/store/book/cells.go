package book

import (
	"context"

	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var cells = row.Of("cell", "key", func(c *store.Cell) []row.Column {
	return []row.Column{
		row.Whole("id", &c.ID).Given(),
		row.Text("key", &c.Key).Fixed(),
		row.Number("latitude", &c.Latitude),
		row.Number("longitude", &c.Longitude),
		row.MaybeNumber("elevation_m", &c.Elevation),
		row.Text("time_zone", &c.TimeZone),
		row.Nested("sources", &c.Sources),
		row.Nested("warnings", &c.Warnings),
		row.AtOrNull("resolved_at", &c.ResolvedAt),
	}
})

// inUse are the cells that hold a field with a standing bed.
const inUse = `SELECT cell_id FROM field WHERE removed_at IS NULL
	AND EXISTS (SELECT 1 FROM bed WHERE field_id = field.id AND cleared_at IS NULL)`

func (r reader) Cell(ctx context.Context, id int64) (_ store.Cell, err error) {
	defer row.Wrap(&err, "cell %d", id)
	return one(ctx, r.q, cells, `WHERE id = ?1`, id)
}

func (r reader) CellByKey(ctx context.Context, key string) (_ store.Cell, err error) {
	defer row.Wrap(&err, "cell %s", key)
	return one(ctx, r.q, cells, `WHERE key = ?1`, key)
}

func (r reader) CellsInUse(ctx context.Context) (_ []store.Cell, err error) {
	defer row.Wrap(&err, "cells in use")
	return many(ctx, r.q, cells, `WHERE id IN (`+inUse+`) ORDER BY id`)
}

func (w writer) SaveCell(ctx context.Context, c store.Cell) (_ int64, err error) {
	defer row.Wrap(&err, "save cell %s", c.Key)
	return only(insert(ctx, w, cells, c, cells.Replace()))
}
