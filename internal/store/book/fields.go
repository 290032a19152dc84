package book

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

var fields = row.Of("field", "id", func(f *store.Field) []row.Column {
	return []row.Column{
		row.Whole("id", &f.ID).Given(),
		row.Whole("farm_id", &f.FarmID).Fixed(),
		row.Ref("cell_id", &f.CellID).Given(), // PlaceField
		row.Text("name", &f.Name),
		row.Number("latitude", &f.Latitude),
		row.Number("longitude", &f.Longitude),
		row.MaybeNumber("elevation_m", &f.Elevation),
		row.Text("soil", &f.Soil),
		row.Number("low_spot_k", &f.LowSpot),
		row.Text("time_zone", &f.TimeZone),
		row.MaybeAt("removed_at", &f.RemovedAt),
		row.At("created_at", &f.CreatedAt).Fixed(),
		row.Whole("version", &f.Version).Given(),
	}
})

func (r reader) Field(ctx context.Context, farmID, id int64) (_ store.Field, err error) {
	defer row.Wrap(&err, "field %d", id)
	return one(ctx, r.q, fields, ofFarm, farmID, id)
}

func (r reader) Fields(ctx context.Context, farmID int64, p store.Page) (_ []store.Field, err error) {
	defer row.Wrap(&err, "fields of farm %d", farmID)
	return many(ctx, r.q, fields, `WHERE farm_id = ?1 AND id > ?2 AND removed_at IS NULL ORDER BY id LIMIT ?3`,
		farmID, p.After, limit(p.Limit))
}

func (r reader) UnplacedFields(ctx context.Context) (_ []store.Field, err error) {
	defer row.Wrap(&err, "fields without a cell")
	return many(ctx, r.q, fields, `WHERE cell_id IS NULL AND removed_at IS NULL ORDER BY id`)
}

func (r reader) FieldsOfCell(ctx context.Context, cellID int64) (_ []store.Field, err error) {
	defer row.Wrap(&err, "fields of cell %d", cellID)
	return many(ctx, r.q, fields, `WHERE cell_id = ?1 AND removed_at IS NULL ORDER BY id`, cellID)
}

func (w writer) AddField(ctx context.Context, f farm.Field) (_ int64, err error) {
	defer row.Wrap(&err, "add field %q", f.Name)
	return add(ctx, w, fields, store.Field{Field: f})
}

func (w writer) UpdateField(ctx context.Context, f farm.Field) (err error) {
	defer row.Wrap(&err, "update field %d", f.ID)
	return reviseOfFarm(ctx, w, fields, store.Field{Field: f}, f.FarmID, f.ID, f.Version)
}

func (w writer) PlaceField(ctx context.Context, fieldID, cellID int64) (err error) {
	defer row.Wrap(&err, "place field %d in cell %d", fieldID, cellID)
	return w.must(ctx, `UPDATE field SET cell_id = ?2 WHERE id = ?1`, fieldID, row.Reference(cellID))
}
