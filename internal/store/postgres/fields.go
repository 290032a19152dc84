package postgres

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	fieldValues  = "name, latitude, longitude, elevation_m, soil, low_spot_k, time_zone, removed_at"
	fieldColumns = "id, farm_id, cell_id, " + fieldValues + ", created_at, version"
)

func (r reader) Field(ctx context.Context, farmID, id int64) (_ store.Field, err error) {
	defer row.Wrap(&err, "field %d", id)
	return one(ctx, r.q, row.ScanField,
		`SELECT `+fieldColumns+` FROM field WHERE farm_id = $1 AND id = $2`, farmID, id)
}

func (r reader) Fields(ctx context.Context, farmID int64, p store.Page) (_ []store.Field, err error) {
	defer row.Wrap(&err, "fields of farm %d", farmID)
	return many(ctx, r.q, row.ScanField, `SELECT `+fieldColumns+` FROM field
		WHERE farm_id = $1 AND id > $2 AND removed_at IS NULL ORDER BY id LIMIT $3`, farmID, p.After, limit(p.Limit))
}

func (r reader) UnplacedFields(ctx context.Context) (_ []store.Field, err error) {
	defer row.Wrap(&err, "fields without a cell")
	return many(ctx, r.q, row.ScanField,
		`SELECT `+fieldColumns+` FROM field WHERE cell_id IS NULL AND removed_at IS NULL ORDER BY id`)
}

func (r reader) FieldsOfCell(ctx context.Context, cellID int64) (_ []store.Field, err error) {
	defer row.Wrap(&err, "fields of cell %d", cellID)
	return many(ctx, r.q, row.ScanField,
		`SELECT `+fieldColumns+` FROM field WHERE cell_id = $1 AND removed_at IS NULL ORDER BY id`, cellID)
}

func (w writer) AddField(ctx context.Context, f farm.Field) (_ int64, err error) {
	defer row.Wrap(&err, "add field %q", f.Name)
	vs, err := row.FieldValues(f)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "field", fieldValues+", farm_id, created_at", "",
		append(vs, f.FarmID, row.Instant(f.CreatedAt)))
}

func (w writer) UpdateField(ctx context.Context, f farm.Field) (err error) {
	defer row.Wrap(&err, "update field %d", f.ID)
	vs, err := row.FieldValues(f)
	if err != nil {
		return err
	}
	return w.update(ctx, "field", fieldValues, f.FarmID, f.ID, f.Version, vs)
}

func (w writer) PlaceField(ctx context.Context, fieldID, cellID int64) (err error) {
	defer row.Wrap(&err, "place field %d in cell %d", fieldID, cellID)
	return w.must(ctx, `UPDATE field SET cell_id = $2 WHERE id = $1`, fieldID, row.Reference(cellID))
}
