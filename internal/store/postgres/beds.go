package postgres

import (
	"context"

	"winterstand/internal/farm"
	"winterstand/internal/store"
	"winterstand/internal/store/row"
)

const (
	bedValues = "field_id, name, crop, variety, purpose, sown_on, standing_kg, price_per_kg, lift_kg_per_hour, " +
		"cost_loss, tolerance_shift_k, covers, mulches, cleared_at, quiet_until"
	bedColumns = "id, farm_id, " + bedValues + ", created_at, version"
)

func (r reader) Bed(ctx context.Context, farmID, id int64) (_ farm.Bed, err error) {
	defer row.Wrap(&err, "bed %d", id)
	return one(ctx, r.q, row.ScanBed, `SELECT `+bedColumns+` FROM bed WHERE farm_id = $1 AND id = $2`, farmID, id)
}

// Beds that stand are not cleared, and neither is their field removed.
func (r reader) Beds(ctx context.Context, farmID int64, f store.BedFilter) (_ []farm.Bed, err error) {
	defer row.Wrap(&err, "beds of farm %d", farmID)
	var c conditions
	c.and("farm_id =", farmID)
	c.and("id >", f.After)
	if f.FieldID != 0 {
		c.and("field_id =", f.FieldID)
	}
	if !f.Cleared {
		c.plain("cleared_at IS NULL")
		c.plain("field_id IN (SELECT id FROM field WHERE removed_at IS NULL)")
	}
	return many(ctx, r.q, row.ScanBed, `SELECT `+bedColumns+` FROM bed WHERE `+c.text()+
		` ORDER BY id LIMIT `+c.mark(limit(f.Limit)), c.args...)
}

func (r reader) BedsOfCell(ctx context.Context, cellID int64) (_ []farm.Bed, err error) {
	defer row.Wrap(&err, "beds of cell %d", cellID)
	return many(ctx, r.q, row.ScanBed, `SELECT `+bedColumns+` FROM bed WHERE cleared_at IS NULL
		AND field_id IN (SELECT id FROM field WHERE cell_id = $1 AND removed_at IS NULL) ORDER BY id`, cellID)
}

func (w writer) AddBed(ctx context.Context, b farm.Bed) (_ int64, err error) {
	defer row.Wrap(&err, "add bed %q", b.Name)
	vs, err := row.BedValues(b)
	if err != nil {
		return 0, err
	}
	return w.insert(ctx, "bed", bedValues+", farm_id, created_at", "",
		append(vs, b.FarmID, row.Instant(b.CreatedAt)))
}

func (w writer) UpdateBed(ctx context.Context, b farm.Bed) (err error) {
	defer row.Wrap(&err, "update bed %d", b.ID)
	vs, err := row.BedValues(b)
	if err != nil {
		return err
	}
	return w.update(ctx, "bed", bedValues, b.FarmID, b.ID, b.Version, vs)
}
